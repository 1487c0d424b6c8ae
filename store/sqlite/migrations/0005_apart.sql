-- +goose Up
-- Sums by hour and packed readings lie apart: charts read narrow rows, and readings are
-- forgotten by deleting rows. Of an hour before forgotten.before_hour there may be a sum and no
-- readings.
create table hour_sum (
	sensor integer not null,
	hour integer not null, -- its begin, µs
	n integer not null,
	least real not null,
	most real not null,
	total real not null,
	first real not null,
	last real not null,
	primary key (sensor, hour)
) strict, without rowid;
insert into hour_sum select sensor, hour, n, least, most, total, first, last from block order by sensor, hour;

create table raw (
	sensor integer not null,
	hour integer not null, -- µs
	data blob not null, -- packed
	primary key (sensor, hour)
) strict;
insert into raw select sensor, hour, data from block where data is not null order by sensor, hour;

create table forgotten (
	sensor integer primary key,
	before_hour integer not null -- µs
) strict;
insert into forgotten select sensor, max(hour) + 3600000000 from block where data is null group by sensor;

drop table block;

-- +goose Down
create table block (
	sensor integer not null,
	hour integer not null,
	n integer not null,
	least real not null,
	most real not null,
	total real not null,
	first real not null,
	last real not null,
	data blob,
	primary key (sensor, hour)
) strict;
insert into block select s.sensor, s.hour, n, least, most, total, first, last, data from hour_sum s left join raw r on r.sensor = s.sensor and r.hour = s.hour;
drop table forgotten;
drop table raw;
drop table hour_sum;
