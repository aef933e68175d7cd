# Completion of meterbook(1) in bash: the program itself says what may stand next.
# shellcheck shell=bash

_meterbook()
{
    local word typed candidate
    local -a words=() candidates=()
    # bash cuts '--by=week' into three words: one again
    for word in "${COMP_WORDS[@]:1:COMP_CWORD}"; do
        if [[ ${#words[@]} -gt 0 && ( $word == = || ${words[-1]} == --*= ) ]]; then
            words[-1]+=$word
        else
            words+=("$word")
        fi
    done
    typed=${COMP_WORDS[COMP_CWORD]}
    [[ $typed == = ]] && typed=
    # the words before as the shell would read them: without quotes and backslashes
    for ((word = 0; word + 1 < ${#words[@]}; word++)); do
        words[word]=${words[word]//[\'\"\\]/}
    done
    mapfile -t candidates < <("${COMP_WORDS[0]}" completion -- "${words[@]}" 2>/dev/null)
    COMPREPLY=()
    for candidate in "${candidates[@]}"; do
        [[ $candidate == "${typed//[\'\"\\]/}"* ]] || continue
        case $typed in
        [\'\"]*) COMPREPLY+=("$candidate") ;;
        *) COMPREPLY+=("$(printf %q "$candidate")") ;;
        esac
    done
}

complete -o default -o bashdefault -F _meterbook meterbook
