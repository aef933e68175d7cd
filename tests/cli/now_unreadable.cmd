# the runtime directory is none
"$METERBOOK" --database household.record --runtime household.record --now 2026-03-30T12:07:07Z now
