# sums of several meters, parts in place of a production meter, a derived grid meter, corrections, mean load, several sealed meters
mkdir -p own
config() { # RECORD ZONE METERS SEALED
    cat >own/agreement.conf <<END
site = { name = "Mill"; time_zone = "$2"; latitude = 20.0; longitude = 73.0; };
record = { database = "$PWD/$1.record"; runtime = "$PWD/own"; logbook = "agreement.txt"; };
buses = ( { name = "host"; kind = "tcp"; host = "127.0.0.1"; } );
meters = ( $3 );
sealed_meters = ( $4 );
END
}
meter() { echo "{ number = $1; name = \"$2\"; role = \"$3\"; bus = \"host\"; unit_id = $1; map = \"sunspec\"; rated_power = 10000; $4 }"; }
utility='{ name = "utility meter"; role = "grid"; registers = "import export"; digits = 6; decimals = 3; accuracy_class = "1"; }'
roof='{ name = "roof meter"; role = "production"; registers = "export"; digits = 6; decimals = 3; accuracy_class = "1"; }'
agreement() {
    echo "== $1"; shift
    "$METERBOOK" -c own/agreement.conf --now 2026-06-02T12:00:00Z agreement --format csv "$@" >answer 2>notes; echo "code $?"
    cut -d, -f 1-10,13-21 answer; grep 'meter, \|^meterbook: limits' notes
}
class='accuracy_class = "1";'
config parts Asia/Kolkata "$(meter 1 East part "delivers = \"export\"; $class"), $(meter 2 West part "delivers = \"export\"; $class"),
    $(meter 3 L1 grid "$class"), $(meter 4 L2 grid "$class"), $(meter 5 L3 grid "$class")" "$utility, $roof"
cat >own/agreement.txt <<'END'
2026-05-04T00:00 reading "utility meter" import=100.000 export=10.000
2026-05-05T00:00 reading "utility meter" import=104.860 export=17.600
2026-05-04T00:00 reading "roof meter" export=100.000
2026-05-05T00:00 reading "roof meter" export=130.050
END
agreement "parts as production, three grid meters as one"
config agreement_derived Asia/Kolkata "$(meter 1 Roof production "delivers = \"export\"; $class"), $(meter 2 "Whole house" consumption "$class")" "$utility"
cat >own/agreement.txt <<'END'
2026-05-04T00:00 reading "utility meter" import=100.000 export=10.000
2026-05-05T00:00 reading "utility meter" import=106.000 export=35.000
END
agreement "a derived grid meter"
config corrected Europe/Berlin "$(meter 1 Roof production "delivers = \"export\"; $class"), $(meter 2 House grid "$class")" "$utility"
cat >own/agreement.txt <<'END'
2026-03-01T00:00 reading "utility meter" import=100.000 export=10.000
2026-03-01T09:00 reading "utility meter" import=105.040 export=11.260
2026-03-01T22:00 reading "utility meter" import=112.000 export=13.000
END
agreement "over a correction"
config agreement_corrected Europe/Berlin "$(meter 2 House grid "phases = 3; $class ct_class = \"0.5\"; ct_ratio = \"100/5\";")" "$utility"
cat >own/agreement.txt <<'END'
2026-03-01T00:00 reading "utility meter" import=100.000 export=10.000
2026-03-01T22:00 reading "utility meter" import=106.000 export=11.500
END
agreement "a correction set the ratio right, the difference is another"
# 750 W in the mean through 30 A at 230 V in three phases are 3.6 %, through 10 A 10.9 %
for ratio in 30 10; do
    config agreement Europe/Berlin "$(meter 2 House grid "phases = 3; accuracy_class = \"1\"; ct_class = \"0.5S\"; ct_ratio = \"$ratio/5\";")" "$utility"
    cat >own/agreement.txt <<'END'
2025-01-01T01:00 reading "utility meter" import=0.000 export=0.000
2025-04-11T02:00 reading "utility meter" import=1200.000 export=600.000
END
    agreement "$ratio A at the mean load"
done
# the ratio that is configured now is not the one of the readings before: 8 and 4 kWh a day, then 12 and 6
config agreement_ratio Europe/Berlin "$(meter 2 House grid "phases = 3; accuracy_class = \"1\"; ct_class = \"0.5S\"; ct_ratio = \"100/5\";")" "$utility"
cat >own/agreement.txt <<'END'
2025-02-01T01:00 reading "utility meter" import=0.000 export=0.000
2025-05-12T02:00 reading "utility meter" import=800.000 export=400.000
2025-07-01T02:00 reading "utility meter" import=1200.000 export=600.000
2025-08-20T02:00 reading "utility meter" import=1800.000 export=900.000
END
agreement "a ratio that was set right since"
config agreement Europe/Berlin "$(meter 1 Roof production "delivers = \"export\"; $class")" "$roof, { name = \"barn meter\"; role = \"production\"; registers = \"export\"; digits = 6; }"
cat >own/agreement.txt <<'END'
2025-01-01T01:00 reading "roof meter" export=0
2025-04-11T02:00 reading "roof meter" export=1200
2025-01-01T01:00 reading "barn meter" export=0
2025-04-11T02:00 reading "barn meter" export=1200
END
agreement "two sealed meters count production together, twice ours"
cat >own/agreement.txt <<'END'
2025-01-01T01:00 reading "roof meter" export=0
2025-02-10T01:00 reading "roof meter" export=200
2025-04-11T02:00 reading "roof meter" export=500
2025-05-01T02:00 reading "roof meter" export=600
2025-06-10T02:00 reading "roof meter" export=800
2025-01-01T01:00 reading "barn meter" export=0
2025-02-10T01:00 reading "barn meter" export=280
2025-04-11T02:00 reading "barn meter" export=700
2025-06-10T02:00 reading "barn meter" export=1120
END
agreement "two sealed meters, of one a reading more"
agreement "the same by one name" "barn meter"
config agreement Europe/Berlin "$(meter 1 Roof production "delivers = \"export\"; $class")" "{ name = \"roof meter\"; role = \"production\"; registers = \"export\"; digits = 4; accuracy_class = \"1\"; }"
cat >own/agreement.txt <<'END'
2024-12-20 reading "roof meter" export=9700
2025-01-01T01:00 reading "roof meter" export=9800
2025-04-11T02:00 reading "roof meter" export=1000
2025-04-20 exchange "roof meter" old.export=1103 new.export=3
2025-07-20T02:00 reading "roof meter" export=1100
2025-08-01 reading "roof meter" export=1000
2025-08-31T02:00 reading "roof meter" export=1360
2025-09-10T02:00 reading "roof meter" export=1480 how=estimated
2025-09-20T02:00 reading "roof meter" export=1300
2026-02-01 reading "roof meter" export=2000
END
agreement "over a rollover, an exchange and a misreading, before and after the record"
config agreement Europe/Berlin "$(meter 2 House grid "$class")" "$utility"
cat >own/agreement.txt <<'END'
2025-01-01T01:00 reading "utility meter" import=0.000 export=0.000
2025-02-01T01:00 reading "utility meter" import=372.000 export=186.000 how=estimated
2025-02-10T01:00 exchange "utility meter" old.import=480.000 new.import=0.000
2025-03-01T01:00 reading "utility meter" import=228.000 export=500.000
2025-04-01T02:00 reading "utility meter" import=600.000 export=686.000
END
agreement "an exchange that says nothing of the export, after a reading that nobody took"
