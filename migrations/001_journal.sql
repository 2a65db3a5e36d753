-- Layout 1: chains of entries, the cached rows they imply, blobs in use, people.
-- Never edit this file once a register has been written with it; add the next number instead.
-- Constraints are named because the store turns the names into errors.

create table site (
    site_key integer primary key,
    site     blob    not null constraint site_is_16_bytes check (length(site) = 16),
    n        integer not null constraint site_number_fits check (n between 0 and 1099511627775),
    head     blob    not null constraint site_head_is_32_bytes check (length(head) = 32),
    -- The index holds sites as small whole 32-bit floats; beyond this they would run together.
    constraint site_key_fits_the_index check (site_key between 1 and 8000000),
    constraint site_is_there_once unique (site)
) strict;

create trigger site_is_never_removed before delete on site
begin
    select raise(abort, 'site_is_never_removed');
end;

-- A head moves only forwards, and never without an entry.
create trigger site_head_never_goes_back before update on site
when new.site <> old.site or new.site_key <> old.site_key or new.n < old.n
  or (new.n = old.n and new.head <> old.head)
begin
    select raise(abort, 'site_head_never_goes_back');
end;

-- The key holds the site and the number, so one site's entries lie together and in order.
-- The body comes last: the columns before it are read without its overflow pages.
create table entry (
    entry_key   integer primary key,
    site_key    integer not null references site (site_key),
    n           integer not null,
    tag         text    not null,
    entry_id    blob    not null constraint entry_id_is_16_bytes check (length(entry_id) = 16),
    recorded_at text    not null,
    body_hash   blob    not null constraint entry_body_hash_is_32_bytes check (length(body_hash) = 32),
    head        blob    not null constraint entry_head_is_32_bytes check (length(head) = 32),
    body        blob    not null constraint entry_body_fits check (length(body) <= 1048576),
    constraint entry_key_is_site_and_number
        check (n between 1 and 1099511627775 and entry_key = site_key * 1099511627776 + n),
    -- A device that sends an entry twice must not get two.
    constraint entry_id_is_there_once unique (site_key, entry_id)
) strict;

create index entry_by_tag on entry (site_key, tag, n);

create trigger entry_is_never_changed before update on entry
begin
    select raise(abort, 'entry_is_never_changed');
end;

create trigger entry_is_never_removed before delete on entry
begin
    select raise(abort, 'entry_is_never_removed');
end;

-- Keeps "insert or replace" from passing the two triggers above.
create trigger entry_is_never_replaced before insert on entry
when new.n <= (select n from site where site_key = new.site_key)
begin
    select raise(abort, 'entry_is_never_replaced');
end;

-- Cache. The boxes are kept exactly beside the run: four 64-bit floats and a 32-bit chunk each, little
-- endian, in the order min_e, min_n, max_e, max_n, chunk; metres from the site's origin.
create table run (
    run_key  integer primary key constraint run_key_fits_the_index check (run_key between 1 and 8796093022207),
    site_key integer not null references site (site_key),
    run      text    not null,
    boxes    blob    not null constraint run_boxes_are_whole check (length(boxes) % 36 = 0),
    bytes    blob    not null,
    constraint run_is_there_once unique (site_key, run)
) strict;

-- Cache. box_key is run_key * 2^20 + the place of the box in its run. Each site fills its own slice of the
-- third axis, from 2 * site_key to 2 * site_key + 1: a slice with no thickness would make every volume zero
-- and spoil the tree. Values are 32-bit floats rounded outward.
create virtual table run_box using rtree (box_key, min_e, max_e, min_n, max_n, min_site, max_site);

create table blob_use (
    site_key integer not null references site (site_key),
    hash     blob    not null constraint blob_hash_is_32_bytes check (length(hash) = 32),
    first_n  integer not null,
    primary key (site_key, hash)
) strict, without rowid;

-- Hashes of blobs erased on purpose.
create table blob_erased (
    hash blob not null primary key constraint erased_hash_is_32_bytes check (length(hash) = 32)
) strict, without rowid;

-- People stand beside the chain, so that they can be erased without breaking it.
create table person (
    person_id blob not null primary key constraint person_id_is_16_bytes check (length(person_id) = 16),
    name      text,
    phone     text,
    constraint person_is_known_or_erased check ((name is null) = (phone is null))
) strict, without rowid;
