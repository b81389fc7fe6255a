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


ENGINE = """#!/bin/sh
# Stands in for a container engine that does all as it should, but for what SPOILT names.
spoilt() { [ "$SPOILT" = "$1" ]; }
case "$*" in
info) ! spoilt engine ;;
pull*) exit 0 ;;
image\\ inspect*ampstead-tried*) if spoilt size; then echo 400000000; else echo 200000000; fi ;;
image\\ inspect*) echo 100000000 ;;
run\\ --rm*) ! spoilt index ;;
build*) if spoilt network; then echo "NewConnectionError: no route"; exit 1; fi; ! spoilt build ;;
run\\ --detach*) ! spoilt bounds && echo made ;;
inspect*Health*) if spoilt health; then echo unhealthy; else echo healthy; fi ;;
inspect*ExitCode*) if spoilt stop; then echo 137; else echo 0; fi ;;
exec\\ made\\ id*) if spoilt user; then echo 0; else echo 10001; fi ;;
exec\\ made\\ sh*) spoilt disk ;;
exec\\ made\\ python3*) ! spoilt answers ;;
esac
"""


@pytest.mark.parametrize(
    ("spoilt", "status", "told"),
    [
        ("nothing", 0, "builds, runs read-only as a plain user, answers and stops"),
        ("engine", 75, "no container engine answers, and only root may start one"),
        ("index", 75, "a container cannot run here, or reaches no package index"),
        ("network", 75, "the build reaches no package index"),
        ("bounds", 75, "the engine does not run a container that is bounded"),
        ("build", 1, "it does not build"),
        ("size", 1, "it adds 300 MB to its base"),
        ("health", 1, "its health is unhealthy"),
        ("user", 1, "it runs as user 0"),
        ("disk", 1, "its files can be written to"),
        ("answers", 1, "what it answers is wrong"),
        ("stop", 1, "it ends with status 137"),
    ],
)
def test_the_image_is_tried_where_there_is_an_engine_and_only_a_bad_one_fails(
    spoilt: str, status: int, told: str, tmp_path: Path
) -> None:
    for name, text in (("docker", ENGINE), ("id", "#!/bin/sh\necho 1000\n")):
        (tmp_path / name).write_text(text, encoding="utf-8")
        (tmp_path / name).chmod(0o755)
    ran = subprocess.run(
        ["sh", TOP / "tests" / "container"],
        env={**os.environ, "PATH": f"{tmp_path}:{os.environ['PATH']}", "SPOILT": spoilt},
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert ran.returncode == status, ran.stdout + ran.stderr
    assert told in (ran.stderr if status else ran.stdout)


def test_ci_tries_the_image_within_bounds_and_says_so_where_it_cannot() -> None:
    run = (TOP / ".ci" / "run").read_text(encoding="utf-8")
    assert re.search(r"^timeout --kill-after=\d+ \d+ sh tests/container", run, re.MULTILINE)
    assert "NOT TRIED" in run
