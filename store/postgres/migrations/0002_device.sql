-- +goose Up
create table device (
	name text primary key,
	hash bytea not null unique, -- SHA-256 of its token
	made bigint not null, -- µs
	revoked bigint not null -- 0 while it may send
);

-- +goose Down
drop table device;
