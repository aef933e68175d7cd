"$METERBOOK" --database household.record --now 2026-03-30T22:07:00Z day yesterday
