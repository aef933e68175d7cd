"$METERBOOK" --database household.record --now 2026-03-30T12:07:07Z completeness
