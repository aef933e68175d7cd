"$METERBOOK" --database household.record --now 2026-04-01T00:00:00Z demand 2026-03
