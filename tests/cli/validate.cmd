# a record where every check passes
"$METERBOOK" --database checks.record --now 2026-04-02T12:00:00Z validate 2026-03; echo "code $?"
"$METERBOOK" --database checks.record --now 2026-04-02T12:00:00Z validate 2026-03-29; echo "code $?"
"$METERBOOK" --database checks.record --now 2026-04-02T12:00:00Z validate 2026 | sed -n '1p;/site/p'
