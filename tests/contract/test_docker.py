"""The image, its pins and the two ways to run many of it, against their own schemas and each other."""

import json
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import kubernetes_validate
import pytest
import yaml
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from ampstead.server.settings import Settings

TOP = Path(__file__).resolve().parents[2]
DOCKER = TOP / "docker"
DOCKERFILE = (DOCKER / "Dockerfile").read_text(encoding="utf-8")
COMPOSE: dict[str, Any] = yaml.safe_load((DOCKER / "compose.yaml").read_text(encoding="utf-8"))
OBJECTS: dict[str, Any] = {
    each["kind"]: each for each in yaml.safe_load_all((DOCKER / "kubernetes.yaml").read_text(encoding="utf-8"))
}


def pinned(name: str) -> dict[str, tuple[str, list[str]]]:
    """Version and hashes of each package of a file of requirements."""
    text = (DOCKER / name).read_text(encoding="utf-8").replace("\\\n", " ")
    found = {}
    for line in (line for line in text.splitlines() if line and not line.startswith("#")):
        what, *hashes = re.split(r"\s+--hash=", line)
        requirement = Requirement(what)
        (version,) = requirement.specifier
        assert version.operator == "=="
        found[canonicalize_name(requirement.name)] = version.version, hashes
    return found


def told(*command: str | Path) -> str:
    ran = subprocess.run(
        [Path(sys.executable).parent / command[0], *command[1:]], capture_output=True, text=True, cwd=TOP, timeout=60
    )
    return "" if ran.returncode == 0 else ran.stdout + ran.stderr


def test_the_dockerfile_has_nothing_to_find_fault_with() -> None:
    assert told("hadolint", "docker/Dockerfile") == ""


def test_compose_follows_its_schema() -> None:
    assert told("check-jsonschema", "--builtin-schema", "vendor.compose-spec", "docker/compose.yaml") == ""


@pytest.mark.parametrize("kind", ["Deployment", "Service", "HorizontalPodAutoscaler", "PodDisruptionBudget"])
def test_each_object_follows_the_schema_of_its_kind(kind: str) -> None:
    kubernetes_validate.validate(OBJECTS[kind], "1.31", strict=True)
    with pytest.raises(kubernetes_validate.ValidationError):
        kubernetes_validate.validate({**OBJECTS[kind], "spec": {"replicas": "two", "selector": 1}}, "1.31", strict=True)


@pytest.mark.parametrize("name", ["requirements.txt", "sbom.txt"])
def test_every_package_of_the_image_is_pinned_by_its_hash(name: str) -> None:
    for package, (_, hashes) in pinned(name).items():
        assert hashes, package
        assert all(re.fullmatch(r"sha256:[0-9a-f]{64}", each) for each in hashes), package
    assert "://" not in (DOCKER / name).read_text(encoding="utf-8")
    assert f"--require-hashes --requirement docker/{name}" in DOCKERFILE


def test_the_pins_are_of_what_the_service_needs() -> None:
    project = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))
    pins = pinned("requirements.txt")
    wanted = [
        *project["project"]["dependencies"],
        *project["project"]["optional-dependencies"]["redis"],
        *project["build-system"]["requires"],
    ]
    for text in wanted:
        requirement = Requirement(text)
        version, _ = pins[canonicalize_name(requirement.name)]
        assert requirement.specifier.contains(version), f"{text}: pinned at {version}; make the pins anew"


def test_nothing_but_what_is_pinned_is_fetched_and_it_runs_as_nobody_in_particular() -> None:
    fetching = [line for line in re.sub(r"\\\n", " ", DOCKERFILE).splitlines() if "pip install" in line]
    for line in fetching:
        for part in re.findall(r"pip install[^&]*", line):
            assert "--require-hashes" in part or "--no-deps --no-build-isolation" in part
    assert "\nUSER 10001\n" in DOCKERFILE
    assert "/healthz" in DOCKERFILE.partition("HEALTHCHECK")[2]


def test_both_ways_to_run_many_are_read_only_bounded_and_asked_whether_they_are_ready() -> None:
    service = COMPOSE["services"]["ampstead"]
    assert service["read_only"]
    assert service["deploy"]["replicas"] >= 2
    assert "/readyz" in service["healthcheck"]["test"][-1]
    assert COMPOSE["services"]["proxy"]["depends_on"]["ampstead"] == {"condition": "service_healthy"}
    (container,) = OBJECTS["Deployment"]["spec"]["template"]["spec"]["containers"]
    assert container["securityContext"]["readOnlyRootFilesystem"]
    assert container["readinessProbe"]["httpGet"]["path"] == "/readyz"
    assert container["livenessProbe"]["httpGet"]["path"] == "/healthz"
    assert OBJECTS["HorizontalPodAutoscaler"]["spec"]["minReplicas"] >= 2
    names = {tuple(sorted(OBJECTS[kind]["spec"]["selector"].items())) for kind in ("Service",)}
    labels = OBJECTS["Deployment"]["spec"]["template"]["metadata"]["labels"]
    assert names == {tuple(sorted(labels.items()))}
    assert OBJECTS["PodDisruptionBudget"]["spec"]["selector"]["matchLabels"] == labels


def test_what_they_set_is_what_the_server_reads(monkeypatch: pytest.MonkeyPatch) -> None:
    (container,) = OBJECTS["Deployment"]["spec"]["template"]["spec"]["containers"]
    for environment in (
        {entry["name"]: entry["value"] for entry in container["env"]},
        COMPOSE["services"]["ampstead"]["environment"],
    ):
        assert Settings.of(environment).hops == 1
        known = (TOP / "service/ampstead/server/settings.py").read_text(encoding="utf-8")
        assert all(f'"{name}"' in known for name in environment)


def test_the_health_checks_own_command_tells_a_dead_service() -> None:
    for command in (
        json.loads(re.sub(r".*CMD ", "", re.findall(r"HEALTHCHECK[^[]*(\[.*\])", DOCKERFILE)[0])),
        COMPOSE["services"]["ampstead"]["healthcheck"]["test"][1:],
    ):
        program = command[-1].replace(":8080", ":9")
        ran = subprocess.run(
            [sys.executable, "-c", program], env={**os.environ, "PORT": "9"}, capture_output=True, timeout=30
        )
        assert ran.returncode != 0
