# What is answered is the sum of the raw rows, to the last mWh: days of 23 to 25 h, a gap, months, years, any span.
command -v sqlite3 >/dev/null || { echo "needs the sqlite3 shell" >&2; exit 77; }
ours() { "$METERBOOK" -c invented/meterbook.conf --now 2025-03-01T09:00:00Z "$@"; }
midnight() { TZ=Europe/Prague date -d "$1 00:00" +%s; }
# COMMAND SPAN FROM TO
while read -r command span from to; do
    told=$(ours "$command" "$span" --format json |
        sed -n 's/^  "totals": .*"production_kwh": \([0-9.]*\), "import_kwh": \([0-9.]*\), "export_kwh": \([0-9.]*\), "cons.*/\1 \2 \3/p' | tr -d .)
    key="id >= $(midnight "$from") * 1024 AND id < $(midnight "$to") * 1024 AND id % 1024"
    raw=$(sqlite3 -readonly invented/record.db "SELECT printf('%07d %07d %07d',
        (SELECT sum(export) FROM interval WHERE $key = 2), sum(import), sum(export)) FROM interval WHERE $key = 1")
    [ -n "$told" ] && [ "$told" = "$raw" ] && echo "$command $span: the same" || echo "$command $span: '$told', its rows '$raw'"
done <<END
day 2023-03-01 2023-03-01 2023-03-02
day 2023-03-26 2023-03-26 2023-03-27
day 2024-10-27 2024-10-27 2024-10-28
day 2024-06-11 2024-06-11 2024-06-12
day 2025-02-28 2025-02-28 2025-03-01
month 2024-02 2024-02-01 2024-03-01
month 2024-06 2024-06-01 2024-07-01
year 2024 2024-01-01 2025-01-01
totals 2024-W24 2024-06-10 2024-06-17
totals 2023-04-05/2025-01-17 2023-04-05 2025-01-18
END
