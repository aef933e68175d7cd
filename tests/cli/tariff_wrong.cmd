# a tariff and a contract with one slip each: what is refused, where, and what is allowed
cat >right.tariff <<'END'
tariff = { name = "T"; currency = "XTS"; settlement = "net_metered"; revision = "split_use"; };
holidays = ( "2026-01-01", "2026-05-01" );
schedules = (
  { from = "2023-01-01";
    blocks = ( { name = "peak"; months = "10-3"; days = "mon-fri"; from = "18:00"; to = "22:00"; } );
    items = (
      { name = "energy"; of = "net"; price = "telescopic"; scale_days = 30; slabs = ( { to = 50; rate = 3; }, { rate = 4.25; } ); },
      { name = "fixed"; of = "months"; rate = 65; },
      { name = "demand"; of = "demand"; rate = 2; ratchet_percent = 50; },
      { name = "duty"; of = "items"; price = "percent"; percent = 9; items = "energy, fixed"; } );
    netting = { carry = "energy"; settle = "03-31"; at_settlement = "pay"; settle_rate = 2; }; },
  { from = "2024-01-01"; items = ( { name = "energy"; of = "net"; rate = 4; } ); }
);
END
cat >right.contract <<'END'
contract = { tariff = "wrong.tariff"; };
loads = ( { from = "2020-01-01"; contracted_kw = 5; } );
plant = ( { from = "2022-05-01"; kwp = 11; } );
projection = { life_years = 25; discount_percent = 7; deposit_percent = 6; replacement_year = 13; replacement = 500; };
cases = ( { name = "a"; plant_kwp = 5; }, { name = "b"; netting_minutes = 60; }, { name = "c"; export_limit_kw = 0; } );
END
slip() {
    sed "$2" "right.$1" >"wrong.$1"
    ! cmp -s "right.$1" "wrong.$1" || echo "no slip: $2"
    "$METERBOOK" -c invented/meterbook.conf --contract wrong.contract bill 2023-05 2>&1 >/dev/null | grep "wrong.$1:" || echo "$2: taken"
    cp "right.$1" "wrong.$1"
}
cp right.contract wrong.contract
slip tariff 's/2024-01-01/2023-01-01/'
slip tariff 's/2024-01-01/2022-01-01/'
slip tariff 's/2024-01-01/2024-02-30/'
slip tariff 's/to = 50/to = -50/'
slip tariff 's/{ rate = 4.25/{ to = 40; rate = 4.25/'
slip tariff 's/to = 50; rate = 3/to = 50/'
slip tariff 's/4.25/4.2500001/'
slip tariff 's/4.25/"4.25"/'
slip tariff 's/"months"; rate/"month"; rate/'
slip tariff 's/rate = 65/rat = 65/'
slip tariff 's/name = "fixed"/name = "energy"/'
slip tariff 's/items = "energy, fixed"/items = "energy, demand, energy"/'
slip tariff 's/items = "energy, fixed"/items = "energy, levy"/'
slip tariff 's/items = ( { name = "energy"; of = "net"; rate = 4; } )/items = ()/'
slip tariff 's/XTS/Xts/'
slip tariff 's/"2026-05-01"/"2026-01-01"/'
slip tariff 's/10-3/10-13/'
slip tariff 's/mon-fri/mo-fr/'
slip tariff 's/22:00/24:30/'
slip tariff 's/22:00/18:00/'
slip tariff 's/name = "peak"/name = "other"/'
slip tariff 's/"net"; price/"net"; block = "peek"; price/'
slip tariff 's/03-31/02-29/'
slip tariff 's/03-31/03-31 never/'
slip tariff 's/settle = "03-31"; //'
slip tariff 's/ settle_rate = 2;//'
slip tariff 's/at_settlement = "pay"; //'
slip tariff 's/carry = "energy"/carry = "money"; expiry_months = 6/'
slip tariff 's/carry = "energy"/carry = "energy"; pays = "energy"/'
slip tariff 's/carry = "energy"/kept_percent = 90/'
slip tariff 's/carry = "energy"/carry = "energy"; across = true/'
slip tariff 's/net_metered/net_billed/'
slip tariff 's/revision = "split_use"/revision = "split_use"; demand_minutes = 7/'
slip tariff 's/ revision = "split_use";//'
slip contract 's/plant_kwp = 5/plant_kwp = 0/'
slip contract 's/plant_kwp = 5/inverter_kw = 0/'
slip contract 's/plant_kwp = 5/consumption_kwh_per_month = 0/'
slip contract 's/minutes = 60/minutes = 7/'
slip contract 's/limit_kw = 0/limit_kw = -1/'
slip contract 's/ replacement = 500;//'
slip contract 's/ replacement_year = 13;//'
slip contract 's/kwp = 11/kwp = 0/'
slip contract 's/life_years = 25/life_years = 0/'
# what the contract leaves out
cat >wrong.tariff <<'END'
tariff = { name = "T"; currency = "XTS"; settlement = "net_billed"; revision = "split_use"; };
holidays = ( "2022-01-01" );
schedules = ( { from = "2023-01-01"; netting = { carry = "money"; }; items = ( { name = "load"; of = "contracted"; rate = 5; },
                { name = "surplus"; of = "export"; pays = true; rate = 1; }, { name = "feed-in"; of = "export"; pays = true; ages = ( { rate = 4; } ); } ); } );
END
printf 'contract = { tariff = "wrong.tariff"; };\n' >wrong.contract
"$METERBOOK" -c invented/meterbook.conf --contract wrong.contract bill 2023-05 | grep -e contract -e holidays -e credit -e total
# times that no interval of the record ends at
cat >wrong.tariff <<'END'
tariff = { name = "T"; currency = "XTS"; settlement = "net_billed"; revision = "split_use"; demand_minutes = 2; };
schedules = ( { from = "2023-01-01"; blocks = ( { name = "peak"; from = "18:00"; to = "21:03"; } );
                items = ( { name = "demand"; of = "demand"; rate = 5; } ); } );
END
"$METERBOOK" -c invented/meterbook.conf --contract wrong.contract bill 2023-05 2>&1 | grep -e better -e total
