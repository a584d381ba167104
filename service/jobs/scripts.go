package jobs

import "github.com/redis/go-redis/v9"

// A job is a hash in Redis: its state, who sent it and when, its call while it isn't over, how
// often it was begun, how far it is, its answer. It has no time to live until it is over. The
// index lists those that aren't over by when they were sent. All keys are in one slot of a
// Cluster, that of the queue.
const (
	queueName = "jobs"
	indexKey  = "parcours:jobs:{" + queueName + "}"
	recordKey = "parcours:job:{" + queueName + "}:"
)

// The fields of a job's hash that are read by themselves.
const fieldState, fieldClient, fieldDone, fieldOf, fieldAnswer = "state", "client", "done", "of", "answer"

// submitScript keeps a call, unless as many aren't over as may. It may be run again.
// KEYS: the job, the index. ARGV: when, how many may be, client, call, id.
var submitScript = redis.NewScript(`
if redis.call("EXISTS", KEYS[1]) == 1 then return 1 end
if redis.call("ZCARD", KEYS[2]) >= tonumber(ARGV[2]) then return 0 end
redis.call("HSET", KEYS[1], "state", "waiting", "client", ARGV[3], "call", ARGV[4])
redis.call("ZADD", KEYS[2], ARGV[1], ARGV[5])
return 1`)

// beginScript begins a job that isn't over, and answers how often it was begun by now, and its
// call. KEYS: the job.
var beginScript = redis.NewScript(`
local state = redis.call("HGET", KEYS[1], "state")
if state ~= "waiting" and state ~= "running" then return false end
redis.call("HSET", KEYS[1], "state", "running")
return {redis.call("HINCRBY", KEYS[1], "tries", 1), redis.call("HGET", KEYS[1], "call")}`)

// giveBackScript undoes a begin, unless the job was begun again since.
// KEYS: the job. ARGV: which begin.
var giveBackScript = redis.NewScript(`
local now = redis.call("HMGET", KEYS[1], "state", "tries")
if now[1] ~= "running" or now[2] ~= ARGV[1] then return 0 end
redis.call("HSET", KEYS[1], "state", "waiting")
redis.call("HINCRBY", KEYS[1], "tries", -1)
return 1`)

// tellScript notes how far a job is, where that is known, and answers whether it still isn't over.
// KEYS: the job. ARGV: done, of.
var tellScript = redis.NewScript(`
local state = redis.call("HGET", KEYS[1], "state")
if state ~= "waiting" and state ~= "running" then return 0 end
if ARGV[2] ~= "0" then redis.call("HSET", KEYS[1], "done", ARGV[1], "of", ARGV[2]) end
return 1`)

// finishScript ends a job that isn't over, and answers when it was sent; 0 where it is. So there
// is one answer, however often a job was worked on.
// KEYS: the job, the index. ARGV: id, state, answer, time to live, done, of.
var finishScript = redis.NewScript(`
local state = redis.call("HGET", KEYS[1], "state")
if state ~= "waiting" and state ~= "running" then return 0 end
redis.call("HDEL", KEYS[1], "call")
redis.call("HSET", KEYS[1], "state", ARGV[2], "answer", ARGV[3])
if ARGV[6] ~= "0" then redis.call("HSET", KEYS[1], "done", ARGV[5], "of", ARGV[6]) end
redis.call("PEXPIRE", KEYS[1], ARGV[4])
local sent = redis.call("ZSCORE", KEYS[2], ARGV[1])
redis.call("ZREM", KEYS[2], ARGV[1])
return tonumber(sent) or 1`)

// cancelScript cancels a client's job, and answers when it was sent; 1 where it was over, 0 where
// there is none. KEYS: the job, the index. ARGV: id, client, time to live.
var cancelScript = redis.NewScript(`
local now = redis.call("HMGET", KEYS[1], "client", "state")
if now[1] ~= ARGV[2] then return 0 end
redis.call("HDEL", KEYS[1], "call", "answer")
redis.call("HSET", KEYS[1], "state", "cancelled")
if now[2] ~= "waiting" and now[2] ~= "running" then return 1 end
redis.call("PEXPIRE", KEYS[1], ARGV[3])
local sent = redis.call("ZSCORE", KEYS[2], ARGV[1])
redis.call("ZREM", KEYS[2], ARGV[1])
return tonumber(sent) or 1`)
