-- +goose Up
create table invite (
	id text primary key,
	hash bytea not null unique, -- SHA-256 of its code
	person text not null,
	role text not null,
	made bigint not null, -- µs
	expires bigint not null, -- µs
	used bigint not null -- 0 while it can be used
);

create table session (
	id text primary key, -- no secret
	hash bytea not null unique, -- SHA-256 of its newest token
	earlier bytea not null, -- of the one before; empty before the first change
	person text not null,
	role text not null,
	device text not null,
	made bigint not null, -- µs
	seen bigint not null, -- µs
	expires bigint not null, -- µs
	revoked bigint not null, -- 0 while it may
	issued bigint not null -- when the newest token was made, µs
);
create index session_by_earlier on session (earlier);

-- +goose Down
drop table session;
drop table invite;
