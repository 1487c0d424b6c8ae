-- +goose Up
create table api_token (
	id text primary key, -- no secret
	hash blob not null unique, -- SHA-256 of its text
	name text not null,
	scopes text not null,
	made integer not null, -- µs
	expires integer not null, -- µs
	used integer not null, -- 0: never
	revoked integer not null -- 0 while it may be used
) strict;

-- What was answered to a request that may come again.
create table api_answer (
	id text primary key, -- who asked, what for, and the key of the request
	request blob not null, -- SHA-256 of all of it
	made integer not null, -- µs
	expires integer not null, -- µs
	status integer not null, -- 0: it is being worked at
	head blob not null, -- JSON
	body blob not null
) strict;
create index api_answer_expires on api_answer (expires);

-- +goose Down
drop table api_answer;
drop table api_token;
