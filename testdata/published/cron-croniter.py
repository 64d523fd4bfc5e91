"""Write cron-croniter.txt: occurrences of cron expressions, by croniter.

Command line, in this directory, with Debian's python3-croniter 1.3.5-3:

    python3 cron-croniter.py > cron-croniter.txt

croniter shares no code with the parser that benchtide uses. It runs on naive
datetimes, so no zone plays a part.

Left out are day steps that reach the 31st, such as */10: after 21 February
croniter 1.3.5 passes over 1 March, which crontab(5) includes.
"""

import datetime
import itertools

from croniter import croniter

START = datetime.datetime(2023, 11, 17, 13, 37)
END = datetime.datetime(2064, 1, 1)
MOST = 300

EXPRESSIONS = """
* * * * *
*/7 * * * *
*/15 6-8 * * *
0 * * * *
17 * * * *
59 23 * * *
0 0 * * *
0 9 * * *
30 8,15 * * *
0 8-17/3 * * *
0 8-18/2 * * *
0 */5 * * *
0 */7 * * *
5/20 * * * *
3-59/14 10 * * *
10,20,50 6,18 * * *
0 6-9,16-19 * * *
0-5 12 * * *
45 7-19/4 * * *
30 6/6 * * *
1,2,3,5,8,13,21,34,55 4 * * *
0 9 * * 0
0 9 * * 6
0 9 * * 1-5
0 9 * * MON,WED,FRI
0 9 * * mon-fri
0 9 * * sun
30 7 * * 1,3,5
0 12 * * */2
0 12 * * 1-6/3
0 9 1 * *
0 9 15 * *
0 9 1,15 * *
0 9 28 * *
0 9 29 * *
0 9 30 * *
0 9 31 * *
0 0 31 * *
0 0 29 2 *
0 6 */2 * *
0 6 2-30/7 * *
0 6 10-20 * *
0 9 * 1 *
0 9 * 6-8 *
0 9 * */3 *
0 9 * 2,4,11 *
0 9 * JAN,MAR,DEC *
0 9 * apr-sep *
0 9 1 */5 *
15 5 31 1,3,5,7 *
0 12 30 4-11/2 *
0 12 29 1-3 *
30 4 1,15 * 5
0 0 13 * 5
0 0 1 * 1
0 12 10-12 * 0,6
0 12 31 * 3
0 12 */9 * 2
0 12 1 1 0
0 12 29 2 1
*/20 8-10 1-7 * MON
0 7,19 5,25 3-10 TUE-THU
0 23 24 12 *
0 0 1 1 *
59 23 31 12 *
0 3 28-31 2 *
12 12 12 12 *
*/30 22-23 * 12 *
0 0,12 1 */2 *
@hourly
@daily
@midnight
@weekly
@monthly
@yearly
""".split("\n")[1:-1]


def minutes(expression):
    steps, last = [], START
    for at in itertools.islice(croniter(expression, START).all_next(datetime.datetime), MOST):
        if at >= END:
            break
        steps.append(int((at - last).total_seconds()) // 60)
        last = at
    return steps


def runs(steps):
    for step, group in itertools.groupby(steps):
        n = len(list(group))
        yield f"{step}x{n}" if n > 1 else str(step)


print("# Occurrences of cron expressions by croniter 1.3.5 (Debian python3-croniter 1.3.5-3),")
print("# a general cron library, made by: python3 cron-croniter.py > cron-croniter.txt")
print(f"# After a tab: minutes from {START:%Y-%m-%dT%H:%M} to the first occurrence and then from each to")
print(f"# the next, nxm meaning n minutes m times; {MOST} occurrences, or fewer where {END:%Y} comes first.")
for expression in EXPRESSIONS:
    print(expression, " ".join(runs(minutes(expression))), sep="\t")
