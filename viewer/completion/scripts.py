"""The scripts that a shell loads: each asks `upline completion words` for what may come next."""

from __future__ import annotations

BASH = r"""# what may come next after "upline"; load it with: source <(upline completion bash)
_upline() {
    local line word
    COMPREPLY=()
    while IFS= read -r line; do
        printf -v word %q "${line%%$'\t'*}"
        COMPREPLY+=("$word")
    done < <("${COMP_WORDS[0]}" completion words -- "${COMP_WORDS[@]:1:COMP_CWORD}" 2>/dev/null)
    if [[ ${#COMPREPLY[@]} -eq 1 && ${COMPREPLY[0]} == */ ]]; then
        compopt -o nospace 2>/dev/null
    fi
}
complete -o nosort -F _upline upline 2>/dev/null || complete -F _upline upline
"""
ZSH = r"""#compdef upline
# what may come next after "upline"; load it with: source <(upline completion zsh)
_upline() {
    local line word
    local -a found folders
    while IFS= read -r line; do
        word=${line%%$'\t'*}
        if [[ $word == */ ]]; then
            folders+=("$word")
        else
            found+=("${word//:/\\:}:${line#*$'\t'}")
        fi
    done < <("${(Q)words[1]}" completion words -- "${(@)words[2,CURRENT]}" 2>/dev/null)
    (( $#folders )) && compadd -S '' -- $folders
    (( $#found )) && _describe upline found
}
compdef _upline upline
"""
FISH = r"""# what may come next after "upline"; load it with: upline completion fish | source
function __upline_words
    set -l typed (commandline -opc)
    set -l program $typed[1]
    set -l begun (commandline -ct)
    set -e typed[1]
    $program completion words -- $typed "$begun" 2>/dev/null
end
complete -c upline -f -a '(__upline_words)'
"""
SCRIPTS = {"bash": BASH, "zsh": ZSH, "fish": FISH}
