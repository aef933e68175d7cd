"$METERBOOK" --database role_change.record --format json completeness
