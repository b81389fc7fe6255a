"""Scripts that complete ``ampstead`` in a shell: commands, calculators, and the inputs and choices of each.

They hold all names themselves, so that completing asks nothing and takes no time; print them anew after an update.
"""

from collections.abc import Callable, Mapping

from ampstead.calculators import registry
from ampstead.cli import COMMANDS
from ampstead.cli.ask import SUFFIXES, TERMINAL
from ampstead.declare import Calculator, Choice, Flag

OPTIONS = ("--json", "--form", "--output", "--csv", "--server", "--help")
FLAG = ("true", "false")
FORMS = (*SUFFIXES, TERMINAL)


def script(shell: str) -> str:
    """The script for a shell."""
    return SHELLS[shell](registry())


def _words(calculator: Calculator) -> dict[str, tuple[str, ...]]:
    """The inputs of a calculator, each with the words that it may be."""
    options: dict[str, tuple[str, ...]] = {}
    for name, entry in calculator.inputs.items():
        spec = entry.spec
        options[name] = spec.options if isinstance(spec, Choice) else FLAG if isinstance(spec, Flag) else ()
    return options


def _bash(calculators: Mapping[str, Calculator]) -> str:
    inputs: list[str] = []
    choices: dict[str, tuple[str, ...]] = {}
    for name, calculator in calculators.items():
        words = _words(calculator)
        inputs.append(f"        {name}) echo '{' '.join(f'{entry}=' for entry in words)}' ;;")
        choices |= {entry: options for entry, options in words.items() if options}
    values = [f"        {entry}) echo '{' '.join(options)}' ;;" for entry, options in sorted(choices.items())]
    return f"""\
# Completes ampstead in bash:  eval "$(ampstead completion bash)"
_ampstead_inputs() {{
    case "$1" in
{chr(10).join(inputs)}
    esac
}}
_ampstead_choices() {{
    case "$1" in
{chr(10).join(values)}
    esac
}}
_ampstead() {{
    local word=${{COMP_WORDS[COMP_CWORD]}} before=${{COMP_WORDS[COMP_CWORD-1]}} name=
    COMPREPLY=()
    compopt +o nospace 2>/dev/null
    if ((COMP_CWORD == 1)); then
        COMPREPLY=($(compgen -W '{" ".join(COMMANDS)} --version --help' -- "$word"))
        return
    fi
    case "${{COMP_WORDS[1]}}" in
        completion) COMPREPLY=($(compgen -W '{" ".join(SHELLS)}' -- "$word")); return ;;
        serve) COMPREPLY=($(compgen -W '--host --port --help' -- "$word")); return ;;
        ask) ;;
        *) return ;;
    esac
    # bash takes = for a word of its own, unless it is left out of COMP_WORDBREAKS.
    if [[ $word == = ]]; then name=$before word=
    elif [[ $before == = ]]; then name=${{COMP_WORDS[COMP_CWORD-2]}}
    fi
    if [[ -n $name ]]; then
        COMPREPLY=($(compgen -W "$(_ampstead_choices "$name")" -- "$word"))
    elif ((COMP_CWORD == 2)); then
        COMPREPLY=($(compgen -W '{" ".join(calculators)} --help' -- "$word"))
    elif [[ $before == --form ]]; then
        COMPREPLY=($(compgen -W '{" ".join(FORMS)}' -- "$word"))
    elif [[ $before == --csv || $before == --output || $before == -o ]]; then
        COMPREPLY=($(compgen -f -- "$word"))
    elif [[ $word == -* ]]; then
        COMPREPLY=($(compgen -W '{" ".join(OPTIONS)}' -- "$word"))
    elif [[ $word == *=* ]]; then
        COMPREPLY=($(compgen -P "${{word%%=*}}=" -W "$(_ampstead_choices "${{word%%=*}}")" -- "${{word#*=}}"))
    else
        COMPREPLY=($(compgen -W "$(_ampstead_inputs "${{COMP_WORDS[2]}}")" -- "$word"))
        compopt -o nospace 2>/dev/null
    fi
}}
complete -F _ampstead ampstead
"""


def _zsh(calculators: Mapping[str, Calculator]) -> str:
    return f"""\
# Completes ampstead in zsh:  eval "$(ampstead completion zsh)"
autoload -Uz compinit bashcompinit
(( $+functions[compdef] )) || compinit
bashcompinit
{_bash(calculators).partition(chr(10))[2]}"""


def _fish(calculators: Mapping[str, Calculator]) -> str:
    lines = [
        "# Completes ampstead in fish:  ampstead completion fish > ~/.config/fish/completions/ampstead.fish",
        "complete -c ampstead -f",
    ]
    first = "test (count (commandline -opc)) -eq 1"
    second = "test (count (commandline -opc)) -eq 2; and __fish_seen_subcommand_from ask"
    lines += [f"complete -c ampstead -n '{first}' -a {name} -d '{said}'" for name, (said, _) in COMMANDS.items()]
    lines.append(f"complete -c ampstead -n '__fish_seen_subcommand_from completion' -a '{' '.join(SHELLS)}'")
    asking = "__fish_seen_subcommand_from ask"
    lines += [
        f"complete -c ampstead -n '{asking}' -l json -r",
        f"complete -c ampstead -n '{asking}' -l form -x -a '{' '.join(FORMS)}'",
        f"complete -c ampstead -n '{asking}' -s o -l output -r -F",
        f"complete -c ampstead -n '{asking}' -l csv -r -F",
        f"complete -c ampstead -n '{asking}' -l server -x",
    ]
    for name, calculator in calculators.items():
        said = calculator.summary.replace("'", "’")
        lines.append(f"complete -c ampstead -n '{second}' -a {name} -d '{said}'")
        words = [f"{entry}={word}" for entry, options in _words(calculator).items() for word in options or ("",)]
        lines.append(f"complete -c ampstead -n '__fish_seen_subcommand_from {name}' -a '{' '.join(words)}'")
    return "\n".join(lines) + "\n"


SHELLS: Mapping[str, Callable[[Mapping[str, Calculator]], str]] = {"bash": _bash, "zsh": _zsh, "fish": _fish}
