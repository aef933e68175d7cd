"$METERBOOK" --database household.record --now 2026-04-02T00:00:00Z --format csv month last
