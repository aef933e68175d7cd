#compdef meterbook
# Completion of meterbook(1) in zsh: the program itself says what may stand next.
local -a candidates
candidates=("${(@f)$("${words[1]}" completion -- "${(@Q)words[2,CURRENT]}" 2>/dev/null)}")
compset -P '--*='
if [[ -n "$candidates" ]]; then
    compadd -a candidates
else
    _files
fi
