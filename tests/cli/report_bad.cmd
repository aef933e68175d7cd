"$METERBOOK" --database household.record report --folder . 2026
