# a register's step behind a transformer is no power of ten
command -v sqlite3 >/dev/null || { echo "needs the sqlite3 shell" >&2; exit 77; }
sqlite3 coarse.record ".backup s.record"
for step in 20000 750000 12500000; do
    sqlite3 s.record "UPDATE run SET step = $step"
    "$METERBOOK" --database s.record day 2026-05-05 | grep steps
done
