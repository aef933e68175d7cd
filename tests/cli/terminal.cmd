# on a terminal: bars, in colour
command -v script >/dev/null || { echo "needs script(1) for a terminal" >&2; exit 77; }
TERM=xterm COLUMNS=120 script -qec '"$METERBOOK" --database derived.record day 2026-05-05' /dev/null | tr -d '\r' | sed -n '5,16p;32,$p'
