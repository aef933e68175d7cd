# beside what the utility wrote
tariffs=$(dirname "$0")/../../config/tariffs
cp "$tariffs"/slabs.tariff . && sed -e 's/2024-02-02/2024-02-01/; s/2024-03-04/2024-03-06/' "$tariffs/invented.contract" >paper.contract
"$METERBOOK" -c invented/meterbook.conf --contract paper.contract --format csv bill 2024-02-15 2>/dev/null
# a quarter whose papers differ by a reading, by a schedule that was not known yet, by a slip, by a line of theirs
for paper in '{ from = "2023-10-03"; to = "2023-11-01"; import = 300; export = 100; estimated = true; note = "invented"; total = 1111; items = ( { name = "energy"; amount = 900; }, { name = "duty"; amount = 4.50; }, { name = "fixed charge"; amount = 43.50; }, { name = "meter rent"; amount = 15; } ); }' \
    '{ from = "2023-10-03"; to = "2023-11-02"; total = 1; }'; do
    sed -e "s/{ from = \"2024-02-02\"; to.*/$paper/; /amount = 800.00/d" "$tariffs/invented.contract" >paper.contract
    "$METERBOOK" -c invented/meterbook.conf --contract paper.contract bill 2023-10-15 || exit
done
