-- A plot may lie in units of any kind, not only in a main plot: they are kept by name. Plans name the columns of such units alike.
-- Only the way of writing changes, so the guards against updates are lifted for this step.
DROP TRIGGER plan_no_update;
DROP TRIGGER layout_no_update;
DROP TRIGGER plot_no_update;

ALTER TABLE plot ADD COLUMN units TEXT NOT NULL DEFAULT '{}' CHECK (json_valid(units));
UPDATE plot SET units = json_object('main plot', main_plot) WHERE main_plot IS NOT NULL;
ALTER TABLE plot DROP COLUMN main_plot;

UPDATE layout SET body = json_set(body, '$.plots', json((
    SELECT json_group_array(json_set(
        json_remove(each.value, '$.main_plot'),
        '$.units',
        CASE WHEN json_extract(each.value, '$.main_plot') IS NULL THEN json('{}')
             ELSE json_object('main plot', json_extract(each.value, '$.main_plot')) END
    )) FROM json_each(layout.body, '$.plots') AS each
))) WHERE json_type(body, '$.plots') = 'array';

UPDATE plan SET body = json_set(
    json_remove(body, '$.table.main_plot'), '$.table.units', json_object('main plot', json_extract(body, '$.table.main_plot'))
) WHERE json_extract(body, '$.table.main_plot') IS NOT NULL;

CREATE TRIGGER plan_no_update BEFORE UPDATE ON plan BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER layout_no_update BEFORE UPDATE ON layout BEGIN SELECT RAISE(ABORT, 'append-only'); END;
CREATE TRIGGER plot_no_update BEFORE UPDATE ON plot BEGIN SELECT RAISE(ABORT, 'append-only'); END;
