"$METERBOOK" --database outages.record --now 2026-11-04T17:00:00Z completeness --view events 2026-10
