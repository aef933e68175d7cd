"$METERBOOK" --database gaps.record --now 2026-11-04T17:00:00Z --format csv completeness --view gaps
