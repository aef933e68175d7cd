# colours only where they are wanted and understood
command -v script >/dev/null || { echo "needs script(1) for a terminal" >&2; exit 77; }
for set in NO_COLOR=1 TERM=dumb NO_COLOR=; do
    env TERM=xterm COLUMNS=120 "$set" script -qec '"$METERBOOK" --database derived.record day 2026-05-05' /dev/null |
        grep -c "$(printf '\033')"
done
# a terminal of unknown width has 80 columns
TERM=xterm script -qec '"$METERBOOK" --database derived.record day 2026-05-05' /dev/null | tr -d '\r' | sed -n '5,8p'
TERM=xterm script -qec '"$METERBOOK" --database derived.record --bars never day 2026-05-05' /dev/null | grep -c '>'
exit 0
