# a fault for each check
"$METERBOOK" --database checks_faulty.record --now 2026-04-02T12:00:00Z validate 2026-03; echo "code $?"
# what was recorded of a time that has not come
"$METERBOOK" --database checks.record --now 2026-03-20T12:00:00Z validate 2026-03-20 | grep -e time -e ^failed
