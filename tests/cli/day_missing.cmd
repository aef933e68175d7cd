"$METERBOOK" --database household.record day 2026-03-20
