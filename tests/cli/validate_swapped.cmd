# days add up to a plausible self-consumption: hours of the night tell that import and export are exchanged
"$METERBOOK" --database checks_swapped.record --now 2026-04-02T12:00:00Z validate 2026-03 | grep -e '^failed' -e 'no more exported'
"$METERBOOK" --database checks.record --now 2026-04-02T12:00:00Z --format csv validate 2026-03 | grep -e 'no more exported'
