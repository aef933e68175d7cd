"$METERBOOK" --database household.record duration
"$METERBOOK" --database household.record duration 2026-03-05 --of export
