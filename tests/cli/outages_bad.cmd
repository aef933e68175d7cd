"$METERBOOK" --database outages.record outages 2026-13
