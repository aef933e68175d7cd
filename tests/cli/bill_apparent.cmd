# kVAh, kVA and kvarh by the grid meter's counters; of kvarh it has none, and of a bill without the plant nobody knows kVA
cat >factory.tariff <<'END'
tariff = { name = "Factory"; currency = "XTS"; settlement = "net_billed"; revision = "closing"; };
schedules = ( { from = "2026-05-04"; items = (
    { name = "energy"; of = "apparent"; rate = 5; },
    { name = "demand"; of = "apparent_demand"; rate = 100; },
    { name = "reactive"; of = "reactive"; rate = 1; },
    { name = "low power factor"; of = "import"; price = "chosen"; chosen_by = "power_factor";
      tables = ( { to = 0.95; slabs = ( { rate = 0.2; } ); }, { slabs = ( { rate = 0; } ); } ); } ); } );
END
printf 'contract = { tariff = "factory.tariff"; };\n' >factory.contract
"$METERBOOK" --database demand.record --now 2026-05-10T00:00:00Z --contract factory.contract bill
# the tariff holds from the 4th on
sed -i 's/"2026-05-04"/"2026-05-01"/' factory.tariff
"$METERBOOK" --database demand.record --now 2026-05-10T00:00:00Z --contract factory.contract bill
"$METERBOOK" --database demand.record --now 2026-05-10T00:00:00Z --contract factory.contract savings; echo $?
