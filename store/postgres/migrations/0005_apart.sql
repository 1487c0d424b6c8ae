-- +goose Up
-- Sums by hour and packed readings lie apart: charts read narrow rows, and readings are
-- forgotten by deleting rows. Of an hour before forgotten.before_hour there may be a sum and no
-- readings.
create table hour_sum (
	sensor bigint not null,
	hour bigint not null, -- its begin, µs
	n bigint not null,
	least double precision not null,
	most double precision not null,
	total double precision not null,
	first double precision not null,
	last double precision not null,
	primary key (sensor, hour)
);
insert into hour_sum select sensor, hour, n, least, most, total, first, last from block order by sensor, hour;

-- In parts of 30 days from 1970-01-01, raw_0 and on; a part is made with its first hour, and
-- dropped when all of it was forgotten, which gives the room back to the disk.
create table raw (
	sensor bigint not null,
	hour bigint not null, -- µs
	data bytea not null, -- packed
	primary key (sensor, hour)
) partition by range (hour);

-- +goose StatementBegin
do $$
declare part bigint;
begin
	for part in select distinct hour / 2592000000000 from block where data is not null loop
		execute format('create table raw_%s partition of raw for values from (%s) to (%s)', part, part * 2592000000000, (part + 1) * 2592000000000);
	end loop;
end $$;
-- +goose StatementEnd
insert into raw select sensor, hour, data from block where data is not null;

create table forgotten (
	sensor bigint primary key,
	before_hour bigint not null -- µs
);
insert into forgotten select sensor, max(hour) + 3600000000 from block where data is null group by sensor;

drop table block;

-- +goose Down
create table block (
	sensor bigint not null,
	hour bigint not null,
	n bigint not null,
	least double precision not null,
	most double precision not null,
	total double precision not null,
	first double precision not null,
	last double precision not null,
	data bytea,
	primary key (sensor, hour)
);
insert into block select s.sensor, s.hour, n, least, most, total, first, last, data from hour_sum s left join raw r on r.sensor = s.sensor and r.hour = s.hour;
drop table forgotten;
drop table raw;
drop table hour_sum;
