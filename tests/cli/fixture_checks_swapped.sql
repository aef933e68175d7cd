-- after checks: the grid meter is wired the other way round
UPDATE interval SET import = export, export = import WHERE meter = 2;
UPDATE day SET import = export, export = import WHERE meter = 2;
