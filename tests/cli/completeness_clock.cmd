"$METERBOOK" --database checks_faulty.record --now 2026-04-02T12:00:00Z completeness --view clock 2026-03
