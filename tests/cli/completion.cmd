# what the shells ask for, then bash itself, completing on a terminal: commands, options, values, meters with a blank
next() { "$METERBOOK" completion -- "$@" | tr '\n' ' ' | sed 's/ $//'; echo; }
next tot | tr ' ' '\n' | grep -x 'day\|totals\|year'
next totals 2026-03 --
next totals --by ''
next --by=
next -c /nowhere.conf extremes --of ''
next --format csv month l
next --database household.record totals --meter ''
next --database household.record --meter=
next --database household.record totals --database ''
next
command -v bash >/dev/null && command -v script >/dev/null || { echo "needs bash and script" >&2; exit 77; }
mkdir -p bin && ln -sf "$METERBOOK" bin/meterbook
completion=$(cd "$(dirname "$0")/../../tools/completion" && pwd)
printf 'stty cols 400; source %s/meterbook.bash\nmeterbook extrem\t--help | head -n 1\nmeterbook --database household.record --meter Hea\ttotals 2026-03-05 --by we\t--form\tjs\t| head -n 3 | tail -n 2\nmeterbook extremes --of=self\t--help | head -n 1\nexit\n' "$completion" |
    PATH=$PWD/bin:$PATH INPUTRC=/dev/null TERM=dumb script -qec "bash --norc --noprofile -i" /dev/null 2>&1 |
    tr -d '\r' | sed -n '/^usage\|^  "/p'
