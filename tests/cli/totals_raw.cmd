# each meter's totals are the sums of its rows to the last mWh, whichever days are closed, estimated or corrected
command -v sqlite3 >/dev/null || { echo "needs the sqlite3 shell" >&2; exit 77; }
# compare RECORD SPAN FROM TO, the last two in UTC s
compare() {
    "$METERBOOK" --database "$1" --format csv --meter all totals "$2" 2>/dev/null | tr -d '\r' |
        awk -F, 'NR > 1 && ($4 != "" || $5 != "") { print $1 "|" $4 "|" $5 "|" $6 }' >printed
    sqlite3 "$1" "SELECT id % 1024, iif(sum(import) IS NULL, '', printf('%d.%06d', sum(import) / 1000000, sum(import) % 1000000)),
        iif(sum(export) IS NULL, '', printf('%d.%06d', sum(export) / 1000000, sum(export) % 1000000)),
        printf('%d.%06d', sum(estimated) / 1000000, sum(estimated) % 1000000)
        FROM interval_as_corrected WHERE id >= $3 * 1024 AND id < $4 * 1024 GROUP BY 1 ORDER BY 1" >raw
    cmp raw printed && echo "$1 $2: same, $(wc -l <raw) meters"
}
compare household.record 2026-03 1772319600 1774994400
compare household.record 2026-03-20 1773961200 1774047600
compare corrected.record 2026-03-01 1772319600 1772406000
compare invented/record.db 2024-06 1717192800 1719784800
compare invented/record.db 2024-06-11/2024-06-12 1718056800 1718229600
compare invented/record.db 2023-03/2025-02 1677625200 1740783600
