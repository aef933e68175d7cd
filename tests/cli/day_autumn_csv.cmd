"$METERBOOK" --database autumn.record --format csv day 2026-10-25
