"""Generates scripts for bash, zsh and fish that complete halfnut's command line, from COMMANDS and OPTIONS."""

from collections.abc import Callable, Iterator, Mapping

from tui.arguments import COMMANDS, OPTIONS, CommandOption, CommandUsage, option_words

_COMMANDS = tuple(command for command in COMMANDS if command.name)
_NAMES = " ".join(command.name for command in _COMMANDS)
_TAKE_JOB = tuple(command for command in COMMANDS if "JOB" in command.operand)
_WITH_VALUE = "|".join(option.name for option in OPTIONS if option.value)


def completion(shell: str) -> str:
    """Return the completion script for a shell: "bash", "zsh" or "fish"."""
    return "\n".join([f"# Completes the words after halfnut in {shell}.", *_SCRIPTS[shell](), ""])


def _goes_with(option: CommandOption, command: CommandUsage) -> bool:
    if option.name == "--format":
        return bool(command.formats)
    return option.only_for in {"", command.name}


def _choices(option: CommandOption, command: CommandUsage) -> tuple[str, ...]:
    return command.formats if option.name == "--format" else option.choices


# bash.

_BASH_START = """\
_halfnut_names() {
    # Each file name is in its own line, because file names may contain blanks.
    compopt -o filenames 2>/dev/null
    mapfile -t COMPREPLY
}
_halfnut() {
    local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]} command= operands=0 i
    COMPREPLY=()
    # bash treats the = of --format=json as a separate word.
    if [[ $word == = ]]; then word=; elif [[ $before == = ]]; then before=${COMP_WORDS[COMP_CWORD-2]}; fi
    for ((i = 1; i < COMP_CWORD; i++)); do
        case ${COMP_WORDS[i]} in
            WITH_VALUE) [[ ${COMP_WORDS[i+1]} == = ]] && ((i += 2)) || ((i += 1)) ;;
            -*) ;;
            *) ((operands++)) || command=${COMP_WORDS[i]} ;;
        esac
    done"""


def _bash() -> Iterator[str]:
    yield _BASH_START.replace("WITH_VALUE", _WITH_VALUE)
    yield '    case "$command $before" in'
    for option in OPTIONS:
        if option.kind == "choice":
            # After a command, its own options only. Options such as --charset are the same for all commands.
            commands = _COMMANDS if option.name == "--format" else (None,)
            for command in commands:
                words = " ".join(_choices(option, command) if command else option.choices)
                if words:
                    name = command.name if command else "*"
                    yield f'        {name}" {option.name}") COMPREPLY=($(compgen -W "{words}" -- "$word")); return ;;'
        elif option.value:
            yield f'        *" {option.name}") {_BASH_VALUES[option.kind]}; return ;;'
    yield from ("    esac", "    if [[ $word == -* ]]; then", "        case $command in")
    for command in (*_COMMANDS, COMMANDS[0]):
        options = " ".join(option.name for option in OPTIONS if _goes_with(option, command))
        yield f'            {command.name or "*"}) COMPREPLY=($(compgen -W "{options}" -- "$word")) ;;'
    yield from ("        esac", "        return", "    fi", "    case $operands$command in")
    jobs = "|".join(f"1{command.name}" for command in _TAKE_JOB if command.name)
    yield f'        0) {_BASH_VALUES["toml"]}; COMPREPLY+=($(compgen -W "{_NAMES}" -- "$word")) ;;'
    yield f"        {jobs}) {_BASH_VALUES['toml']} ;;"
    yield from ("    esac", "}", "complete -F _halfnut halfnut")


_BASH_VALUES = {
    "toml": '_halfnut_names < <(compgen -f -X "!*.toml" -- "$word"; compgen -d -- "$word")',
    "file": '_halfnut_names < <(compgen -f -- "$word")',
    "folder": '_halfnut_names < <(compgen -d -- "$word")',
    "number": ":",
}

# zsh.


def _zsh() -> Iterator[str]:
    yield "_halfnut() {"
    yield "    local command= operands=0 i"
    yield "    for ((i = 2; i < CURRENT; i++)); do"
    yield "        case ${words[i]} in"
    yield f"            {_WITH_VALUE}) ((i += 1)) ;;"
    yield "            -*) ;;"
    yield "            *) ((operands++)) || command=${words[i]} ;;"
    yield "        esac"
    yield "    done"
    yield "    local -a options=("
    for option in filter(_goes_with_all, OPTIONS):
        yield f"        {_zsh_option(option, COMMANDS[0])}"
    yield from ("    )", "    case $command in")
    for command in _COMMANDS:
        own = [option for option in OPTIONS if _goes_with(option, command) and not _goes_with_all(option)]
        yield f"        {command.name}) options+=("
        yield from (f"            {_zsh_option(option, command)}" for option in own)
        yield f"            {_ZSH_JOB if command in _TAKE_JOB else _ZSH_QUANTITY}"
        yield "        ) ;;"
    yield from ("        '') options+=('1:command or job:_halfnut_first') ;;", "    esac")
    yield from ("    _arguments $options", "}", "_halfnut_first() {", "    local -a commands=(")
    yield from (f"        '{command.name}:{_zsh_quoted(command.words)}'" for command in _COMMANDS)
    yield from ("    )", "    _describe command commands", '    _files -g "*.toml(-.)"', "}")
    yield "compdef _halfnut halfnut"


_ZSH_JOB = "1:command: '2:job:_files -g \"*.toml(-.)\"'"
_ZSH_QUANTITY = "1:command: '2:quantity: '"


def _goes_with_all(option: CommandOption) -> bool:
    return all(_goes_with(option, command) for command in COMMANDS)


def _zsh_option(option: CommandOption, command: CommandUsage) -> str:
    """Return an option, with its values for `command`, in the notation of zsh's `_arguments`."""
    words = _zsh_quoted(option_words(option))
    if not option.value:
        return f"'{option.name}[{words}]'"
    values = {"toml": '_files -g "*.toml(-.)"', "file": "_files", "folder": "_files -/", "number": " "}
    value = values.get(option.kind) or f"({' '.join(_choices(option, command))})"
    return f"'{option.name}=[{words}]:{option.value}:{value}'"


def _zsh_quoted(words: str) -> str:
    return words.replace("'", "'\\''").replace(":", "\\:").replace("[", "\\[").replace("]", "\\]")


# fish.


def _fish() -> Iterator[str]:
    yield "complete -c halfnut -f"
    for command in _COMMANDS:
        yield _fish_line("__fish_use_subcommand", f"-a {command.name}", command.words)
    takes_job = f"__fish_use_subcommand; or __fish_seen_subcommand_from {' '.join(c.name for c in _TAKE_JOB if c.name)}"
    yield f"complete -c halfnut -n '{takes_job}' -a '(__fish_complete_suffix .toml)'"
    for option in OPTIONS:
        if option.name == "--format":
            for command in _COMMANDS:
                if command.formats:
                    words = " ".join(command.formats)
                    seen = f"__fish_seen_subcommand_from {command.name}"
                    yield _fish_line(seen, f"-l format -x -a '{words}'", option_words(option))
            continue
        condition = f"__fish_seen_subcommand_from {option.only_for}" if option.only_for else ""
        yield _fish_line(condition, f"-l {option.name[2:]}{_fish_values(option)}", option_words(option))


def _fish_values(option: CommandOption) -> str:
    values: Mapping[str, str] = {
        "none": "",
        "toml": " -x -a '(__fish_complete_suffix .toml)'",
        "file": " -r -F",
        "folder": " -x -a '(__fish_complete_directories)'",
        "number": " -x",
    }
    return values[option.kind] if option.kind in values else f" -x -a '{' '.join(option.choices)}'"


def _fish_line(condition: str, what: str, words: str) -> str:
    quoted = words.replace("'", "\\'")
    return " ".join(
        filter(None, ("complete -c halfnut", f"-n '{condition}'" * bool(condition), what, f"-d '{quoted}'"))
    )


_SCRIPTS: Mapping[str, Callable[[], Iterator[str]]] = {"bash": _bash, "zsh": _zsh, "fish": _fish}
