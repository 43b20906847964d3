-- What the database itself enforces. Names are spelled out, so that no search path can mislead.
-- A bay is the role it logs in as. It adds rows of its own and reads them, and that is all.

CREATE FUNCTION gloveson.refuse(said text) RETURNS void
LANGUAGE plpgsql SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    RAISE EXCEPTION '%', said USING ERRCODE = 'integrity_constraint_violation';
END $$;

-- Whether a line is what its columns say. The hash is of the line without its newline and without
-- the hash member; a line that holds its own hash a second time can't be made (SHA-256).
CREATE FUNCTION gloveson.entry_holds(entry gloveson.entry) RETURNS boolean
LANGUAGE plpgsql IMMUTABLE SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    mark bytea := convert_to('"hash":"' || entry.hash || '",', 'UTF8');
    place integer := position(mark in entry.line);
    rest bytea;
    tail jsonb;
BEGIN
    IF place = 0 OR get_byte(entry.line, length(entry.line) - 1) <> 10 THEN
        RETURN false;
    END IF;
    rest := substring(entry.line from place + length(mark)
        for length(entry.line) - place - length(mark));
    tail := convert_from('{'::bytea || rest, 'UTF8')::jsonb;
    RETURN entry.hash = encode(sha256(substring(entry.line from 1 for place - 1) || rest), 'hex')
        AND (tail ->> 'n')::numeric = entry.n
        AND tail ->> 'prev' = entry.prev
        AND tail ->> 'kind' = entry.kind;
END $$;

-- Two runs at once need no lock here: on the same entry the second waits for the first by the
-- primary key, and is then refused; it looks again and finds the entry there.
CREATE FUNCTION gloveson.check_entry() RETURNS trigger
LANGUAGE plpgsql SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    here text := format('entry %s of job %s ', NEW.n, NEW.job);
    same text;
    last gloveson.entry;
BEGIN
    IF NEW.bay <> current_user THEN
        RETURN NEW;  -- row security refuses it
    END IF;
    NEW.received := clock_timestamp();  -- the server's clock, whatever was given
    SELECT hash INTO same FROM gloveson.entry
        WHERE bay = NEW.bay AND job = NEW.job AND n = NEW.n;
    IF same = NEW.hash THEN
        RETURN NULL;  -- it is here already: coming twice changes nothing
    ELSIF same IS NOT NULL THEN
        PERFORM gloveson.refuse(here || 'is here with another hash: a fork');
    ELSIF NOT gloveson.entry_holds(NEW) THEN
        PERFORM gloveson.refuse(here || 'does not match its hash or its columns');
    END IF;
    SELECT * INTO last FROM gloveson.entry
        WHERE bay = NEW.bay AND job = NEW.job ORDER BY n DESC LIMIT 1;
    IF NEW.n <> coalesce(last.n + 1, 0) THEN
        PERFORM gloveson.refuse(here || format('leaves a gap: %s are here', coalesce(last.n + 1, 0)));
    ELSIF NEW.prev <> coalesce(last.hash, encode(sha256(
        convert_to('gloves-on record 1', 'UTF8') || '\x00'::bytea || convert_to(NEW.job, 'UTF8')
        ), 'hex')) THEN
        PERFORM gloveson.refuse(here || 'does not follow what is here');
    ELSIF last.kind = 'sealed' THEN
        PERFORM gloveson.refuse(here || 'comes after the seal');
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER check_entry BEFORE INSERT ON gloveson.entry
    FOR EACH ROW EXECUTE FUNCTION gloveson.check_entry();

CREATE FUNCTION gloveson.check_content() RETURNS trigger
LANGUAGE plpgsql SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    NEW.received := clock_timestamp();
    IF NEW.sha256 <> encode(sha256(NEW.content), 'hex') THEN
        PERFORM gloveson.refuse(format('bytes of job %s do not match their hash', NEW.job));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER check_content BEFORE INSERT ON gloveson.file
    FOR EACH ROW EXECUTE FUNCTION gloveson.check_content();
CREATE TRIGGER check_content BEFORE INSERT ON gloveson.refused
    FOR EACH ROW EXECUTE FUNCTION gloveson.check_content();

-- Nothing that could not be a record's, whatever program adds it.
ALTER TABLE gloveson.entry
    ADD CONSTRAINT entry_job CHECK (job ~ '^[a-z0-9]+(-[a-z0-9]+)*$'),
    ADD CONSTRAINT entry_size CHECK (length(line) <= 1048576);
ALTER TABLE gloveson.file
    ADD CONSTRAINT file_name CHECK (name ~ '^(clips|checklist)/[^/]' AND name !~ '(^|/)[.]'),
    ADD CONSTRAINT file_size CHECK (length(content) <= 67108864);
ALTER TABLE gloveson.refused
    ADD CONSTRAINT refused_size CHECK (length(content) <= 1048576);

-- Two roles that nobody logs in as; roles are of the whole server, so they may be there already.
DO $$
DECLARE
    wanted text;
BEGIN
    FOREACH wanted IN ARRAY ARRAY['gloveson_bay', 'gloveson_office'] LOOP
        IF NOT EXISTS (SELECT FROM pg_catalog.pg_roles WHERE rolname = wanted) THEN
            EXECUTE format('CREATE ROLE %I NOLOGIN', wanted);
        END IF;
    END LOOP;
END $$;

REVOKE ALL ON SCHEMA gloveson FROM PUBLIC;
REVOKE ALL ON ALL FUNCTIONS IN SCHEMA gloveson FROM PUBLIC;
GRANT USAGE ON SCHEMA gloveson TO gloveson_bay, gloveson_office;
GRANT SELECT ON gloveson.store TO gloveson_bay, gloveson_office;
GRANT SELECT ON gloveson.entry, gloveson.file, gloveson.refused TO gloveson_bay, gloveson_office;
GRANT INSERT (bay, job, n, hash, prev, kind, line) ON gloveson.entry TO gloveson_bay;
GRANT INSERT (bay, job, name, sha256, content) ON gloveson.file TO gloveson_bay;
GRANT INSERT (bay, job, n, sha256, reason, content) ON gloveson.refused TO gloveson_bay;
GRANT EXECUTE ON FUNCTION gloveson.refuse(text), gloveson.entry_holds(gloveson.entry)
    TO gloveson_bay;

ALTER TABLE gloveson.entry ENABLE ROW LEVEL SECURITY;
ALTER TABLE gloveson.file ENABLE ROW LEVEL SECURITY;
ALTER TABLE gloveson.refused ENABLE ROW LEVEL SECURITY;

DO $$
DECLARE
    guarded text;
BEGIN
    FOREACH guarded IN ARRAY ARRAY['entry', 'file', 'refused'] LOOP
        EXECUTE format('CREATE POLICY bay_reads ON gloveson.%I FOR SELECT TO gloveson_bay '
            'USING (bay = current_user)', guarded);
        EXECUTE format('CREATE POLICY bay_adds ON gloveson.%I FOR INSERT TO gloveson_bay '
            'WITH CHECK (bay = current_user)', guarded);
        EXECUTE format('CREATE POLICY office_reads ON gloveson.%I FOR SELECT TO gloveson_office '
            'USING (true)', guarded);
    END LOOP;
END $$;
