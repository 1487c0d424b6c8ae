-- +goose Up
create table device (
	name text primary key,
	hash blob not null unique, -- SHA-256 of its token
	made integer not null, -- µs
	revoked integer not null -- 0 while it may send
) strict;

-- +goose Down
drop table device;
