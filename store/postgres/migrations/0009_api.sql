-- +goose Up
create table api_token (
	id text primary key, -- no secret
	hash bytea not null unique, -- SHA-256 of its text
	name text not null,
	scopes text not null,
	made bigint not null, -- µs
	expires bigint not null, -- µs
	used bigint not null, -- 0: never
	revoked bigint not null -- 0 while it may be used
);

-- What was answered to a request that may come again.
create table api_answer (
	id text primary key, -- who asked, what for, and the key of the request
	request bytea not null, -- SHA-256 of all of it
	made bigint not null, -- µs
	expires bigint not null, -- µs
	status bigint not null, -- 0: it is being worked at
	head bytea not null, -- JSON
	body bytea not null
);
create index api_answer_expires on api_answer (expires);

-- +goose Down
drop table api_answer;
drop table api_token;
