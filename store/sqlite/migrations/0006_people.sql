-- +goose Up
create table invite (
	id text primary key,
	hash blob not null unique, -- SHA-256 of its code
	person text not null,
	role text not null,
	made integer not null, -- µs
	expires integer not null, -- µs
	used integer not null -- 0 while it can be used
) strict;

create table session (
	id text primary key, -- no secret
	hash blob not null unique, -- SHA-256 of its newest token
	earlier blob not null, -- of the one before; empty before the first change
	person text not null,
	role text not null,
	device text not null,
	made integer not null, -- µs
	seen integer not null, -- µs
	expires integer not null, -- µs
	revoked integer not null, -- 0 while it may
	issued integer not null -- when the newest token was made, µs
) strict;
create index session_by_earlier on session (earlier);

-- +goose Down
drop table session;
drop table invite;
