-- The logbook, version 1: what happened, in the order it was written down. Facts are only ever added.

create table about (
    name text primary key,
    value text not null
) without rowid;

-- A trip by the id in its file; the rest tells a copied file from the same one.
create table trip (
    key text primary key,
    title text not null,
    origin text not null,
    day text not null,
    load text not null,
    path text not null
) without rowid;

-- Plans from which a paper was issued or a box released, whole and for ever.
create table plan (
    id text primary key,
    code text not null,
    made_s real not null,
    trip text not null,
    title text not null,
    inputs text not null,
    program text not null,
    snapshot blob not null
);
create index plan_of_trip on plan (trip, made_s);

-- Who somebody is stands here and nowhere else, so that it can be taken out again.
create table person (
    key text primary key,
    name text not null,
    phone text not null,
    address text not null,
    language text not null,
    erased_s real,
    sum text not null
) without rowid;

-- One chain of events for each book (each machine that writes); ``who`` is the key of a person.
create table event (
    book text not null,
    number integer not null,
    at_s real not null,
    offset_s integer not null,
    device text not null,
    who text not null,
    trip text not null,
    subject_kind text not null,
    subject text not null,
    kind text not null,
    body text not null,
    plan text not null,
    corrects text not null,
    before text not null,
    hash text not null,
    primary key (book, number)
);
create index event_of_subject on event (trip, subject_kind, subject);
create index event_of_kind on event (kind);
create unique index event_by_hash on event (hash);

-- Where each chain ends, so that a chain cut short is noticed.
create table chain (
    book text primary key,
    number integer not null,
    hash text not null
) without rowid;

-- Pictures and logs lie beside this file, named by what they hold.
create table media (
    hash text primary key,
    kind text not null,
    bytes integer not null,
    taken_s real,
    width integer,
    height integer
) without rowid;

create table setting (
    name text primary key,
    value text not null
) without rowid;

-- What the next comparison of plans needs; the newest few of each trip.
create table recheck (
    id integer primary key,
    trip text not null,
    made_s real not null,
    document text not null
);
create index recheck_of_trip on recheck (trip, made_s);

create trigger event_stays before update on event begin select raise(abort, 'events are only added'); end;
create trigger event_kept before delete on event begin select raise(abort, 'events are only added'); end;
create trigger plan_stays before update on plan begin select raise(abort, 'pinned plans stay'); end;
create trigger plan_kept before delete on plan begin select raise(abort, 'pinned plans stay'); end;
