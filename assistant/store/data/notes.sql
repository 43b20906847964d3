-- Notes of clips removed: they go on after the seal of a record, each after the one before. A bay
-- adds its own. The office may delete a clip from the store where a note names it by name and hash,
-- and nothing else.

CREATE FUNCTION gloveson.check_note() RETURNS trigger
LANGUAGE plpgsql SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    here text := format('note %s of job %s ', NEW.n, NEW.job);
    same text;
    last gloveson.entry;
BEGIN
    IF NEW.bay <> current_user THEN
        RETURN NEW;  -- row security refuses it
    END IF;
    NEW.received := clock_timestamp();
    SELECT hash INTO same FROM gloveson.note
        WHERE bay = NEW.bay AND job = NEW.job AND n = NEW.n;
    IF same = NEW.hash THEN
        RETURN NULL;  -- it is here already
    ELSIF same IS NOT NULL THEN
        PERFORM gloveson.refuse(here || 'is here with another hash');
    ELSIF NEW.kind <> 'removed' OR NOT gloveson.entry_holds(
        ROW(NEW.bay, NEW.job, NEW.n, NEW.hash, NEW.prev, NEW.kind, NEW.line, NEW.received)
            ::gloveson.entry) THEN
        PERFORM gloveson.refuse(here || 'does not match its hash or its columns');
    ELSIF jsonb_typeof(convert_from(NEW.line, 'UTF8')::jsonb -> 'data' -> 'files')
        IS DISTINCT FROM 'array' THEN
        PERFORM gloveson.refuse(here || 'names no clips');
    END IF;
    SELECT * INTO last FROM gloveson.note
        WHERE bay = NEW.bay AND job = NEW.job ORDER BY n DESC LIMIT 1;
    IF NOT FOUND THEN
        SELECT * INTO last FROM gloveson.entry
            WHERE bay = NEW.bay AND job = NEW.job AND kind = 'sealed';
    END IF;
    IF last.hash IS NULL OR NEW.prev <> last.hash OR NEW.n <> last.n + 1 THEN
        PERFORM gloveson.refuse(here || 'does not follow the seal or the note before');
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER check_note BEFORE INSERT ON gloveson.note
    FOR EACH ROW EXECUTE FUNCTION gloveson.check_note();
REVOKE ALL ON FUNCTION gloveson.check_note() FROM PUBLIC;

ALTER TABLE gloveson.note
    ADD CONSTRAINT note_job CHECK (job ~ '^[a-z0-9]+(-[a-z0-9]+)*$'),
    ADD CONSTRAINT note_size CHECK (length(line) <= 1048576);

GRANT SELECT ON gloveson.note TO gloveson_bay, gloveson_office;
GRANT INSERT (bay, job, n, hash, prev, kind, line) ON gloveson.note TO gloveson_bay;
GRANT DELETE ON gloveson.file TO gloveson_office;

ALTER TABLE gloveson.note ENABLE ROW LEVEL SECURITY;
CREATE POLICY bay_reads ON gloveson.note FOR SELECT TO gloveson_bay USING (bay = current_user);
CREATE POLICY bay_adds ON gloveson.note FOR INSERT TO gloveson_bay
    WITH CHECK (bay = current_user);
CREATE POLICY office_reads ON gloveson.note FOR SELECT TO gloveson_office USING (true);
CREATE POLICY office_removes ON gloveson.file FOR DELETE TO gloveson_office
    USING (name LIKE 'clips/%' AND EXISTS (
        SELECT FROM gloveson.note
        WHERE note.bay = file.bay AND note.job = file.job
            AND convert_from(note.line, 'UTF8')::jsonb -> 'data' -> 'files'
                @> jsonb_build_array(jsonb_build_object('file', file.name, 'sha256', file.sha256))));
