# zsh itself, completing on a terminal: commands, options, values, meters with a blank
command -v zsh >/dev/null && command -v script >/dev/null || { echo "needs zsh and script" >&2; exit 77; }
mkdir -p bin functions && ln -sf "$METERBOOK" bin/meterbook
cp "$(cd "$(dirname "$0")/../../tools/completion" && pwd)/meterbook.zsh" functions/_meterbook
printf 'stty cols 400; PS1=; unsetopt zle_bracketed_paste; fpath=($PWD/functions $fpath); autoload -Uz compinit && compinit -u -D\nmeterbook extrem\t--help | head -n 1\nmeterbook --database household.record --meter Hea\ttotals 2026-03-05 --by we\t--form\tjs\t| head -n 3 | tail -n 2\nmeterbook extremes --of=self\t--help | head -n 1\nexit\n' |
    PATH=$PWD/bin:$PATH TERM=dumb script -qec "zsh -f -i" /dev/null 2>&1 | tr -d '\r' | sed -n '/^usage\|^  "/p'
