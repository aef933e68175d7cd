"$METERBOOK" --database household.record --runtime nowhere --now 2026-03-30T12:07:07Z now
