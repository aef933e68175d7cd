"$METERBOOK" --database supply.record --now 2026-06-22T00:00:00Z supply --view export
