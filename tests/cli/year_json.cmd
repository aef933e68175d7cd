"$METERBOOK" --database storage.record --format json year 2026
