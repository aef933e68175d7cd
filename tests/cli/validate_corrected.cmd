# accounts are checked as measured, use and spikes as they count
"$METERBOOK" --database checks_corrected.record --now 2026-04-02T12:00:00Z validate 2026-03-18 | grep -v 'not told' | sed -n '/^failed/p;/^corrections/p;/Roof/p;/site/p'
"$METERBOOK" --database checks_corrected.record --now 2026-04-02T12:00:00Z validate 2026-03-19 | grep ^failed
