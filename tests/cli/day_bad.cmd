"$METERBOOK" --database household.record day 2026-02-30
