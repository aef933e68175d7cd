"$METERBOOK" --database checks_faulty.record --now 2026-04-02T12:00:00Z --format csv validate 2026-03-13; echo "code $?"
"$METERBOOK" --database checks_faulty.record --now 2026-04-02T12:00:00Z --format json validate 2026-03-05 | grep -v passed; echo "code $?"
