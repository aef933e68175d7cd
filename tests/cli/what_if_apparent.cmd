# kVAh, kVA and kvarh in cases: the rest beside kWh stays, so savings in kWh overstate those in kVAh; refused where nothing tells the rest
cat >factory.tariff <<'END'
tariff = { name = "Factory"; currency = "XTS"; settlement = "net_billed"; revision = "closing"; };
schedules = ( { from = "2026-01-01"; items = (
    { name = "energy"; of = "apparent"; rate = 5; },
    { name = "demand"; of = "apparent_demand"; rate = 100; } ); } );
END
sed 's/apparent_demand"; rate = 100/demand"; rate = 100/; s/"apparent"/"import"/; s/Factory/Factory by kWh/' factory.tariff >plain.tariff
sed 's/{ name = "energy"/{ name = "reactive"; of = "reactive"; rate = 1; }, &/' factory.tariff >reactive.tariff
cat >factory.contract <<'END'
contract = { tariff = "factory.tariff"; };
plant = ( { from = "2026-01-01"; kwp = 12; } );
projection = { life_years = 20; discount_percent = 7; deposit_percent = 5; };
cases = ( { name = "half the plant"; plant_kwp = 6; },
          { name = "battery of 10 kWh"; battery_kwh = 10; battery_kw = 5; },
          { name = "billed by kWh"; tariff = "plain.tariff"; },
          { name = "kvarh billed"; tariff = "reactive.tariff"; } );
sweep = { plant_from = 0; plant_to = 12; plant_step = 6; consumption_from = 1000; consumption_to = 1000; consumption_step = 1;
          cost_fixed = 1; cost_per_kwp = 1000; };
END
meterbook() { "$METERBOOK" --database factory.record --now 2026-04-05T00:00:00Z --contract factory.contract "$@" 2>&1; echo "code $?"; }
meterbook what-if 2026-03-01/2026-03-24
meterbook bill 2026-03-01/2026-03-24 | grep -E 'energy|demand|total'
meterbook --view sweep what-if 2026-03-01/2026-03-24
meterbook worth 2026-03-01/2026-03-24 | sed 12q
# of the last week kVAh of import are all that is known, and on a Sunday nothing was imported at noon
meterbook what-if 2026-03
meterbook --view sweep what-if 2026-03
meterbook worth 2026-03 | sed 4q
sed -i 's/factory.tariff/reactive.tariff/' factory.contract
meterbook worth 2026-03
