package controller

import (
	"fmt"
	"slices"

	"benchtide/safety"
	"benchtide/schedule"
)

// noStage is that of a batch without one: not on its bench, or too young.
const noStage = -1

// progress is what has become of a batch since its file was written.
type progress struct {
	stage   int           // it was in last, noStage for none
	offered int           // the stage that a person was told is due
	closed  schedule.Date // its last day by a person's word; 0 without one
	said    []Said        // words that hold from a day on
}

// Advance has batch i enter a stage of its plan today, by a person's word: one
// ahead of its age, behind it, or the one that is due. stage is an index of the
// plan.
func (c *Controller) Advance(now safety.Now, i, stage int) error {
	c.now = now
	b, err := c.batch("advance", i)
	if err != nil {
		return err
	}
	plan := c.setup.Plans[b.Plan]
	present, stands := b.StageOn(plan, c.today())
	switch {
	case stage < 0 || stage >= len(plan.Stages):
		return fmt.Errorf("advance %s: plan %q has no stage %d; it has %d", b.Name, plan.Name, stage+1, len(plan.Stages))
	case c.today() < b.Transplanted || b.Closed != 0 && c.today() > b.Closed:
		return fmt.Errorf("advance %s: it does not stand on %s today", b.Name, c.called(b.Bench))
	case stands && stage == present:
		return fmt.Errorf("advance %s: it is in its %s already", b.Name, stageName(plan, stage))
	}
	b.Passages = append(slices.Clip(b.Passages), schedule.Passage{On: c.today(), Stage: stage})
	c.say(i, len(b.Passages)-1, 0)
	c.changed(i)
	return nil
}

// Close takes batch i off its bench: last is its last day there, and yesterday
// or earlier stops its floods at once. 0 takes an earlier word back.
func (c *Controller) Close(now safety.Now, i int, last schedule.Date) error {
	c.now = now
	b, err := c.batch("close", i)
	if err != nil {
		return err
	}
	switch {
	case last == 0 && c.progress[i].closed == 0:
		return fmt.Errorf("reopen %s: nobody has closed it here; what the file says is changed there", b.Name)
	case last == 0:
		c.sayClosed(i, 0)
		c.progress[i].closed, b.Closed = 0, c.filed[i].Closed
	case b.Closed != 0 && b.Closed <= last && b.Closed < c.today():
		return fmt.Errorf("close %s: it has been closed since %s", b.Name, b.Closed)
	default:
		last = c.sayClosed(i, last)
		c.progress[i].closed, b.Closed = last, last
	}
	c.closed(i)
	return nil
}

// Empty takes every batch off bench b that stands there today, whatever date a
// clock shows that is not trusted. It returns their names.
func (c *Controller) Empty(now safety.Now, b int) (names []string, err error) {
	c.now = now
	if err := c.checkBench(b); err != nil {
		return nil, err
	}
	for i := range c.setup.Batches {
		k, today := &c.setup.Batches[i], c.today()
		if k.Bench != b || today < k.Transplanted || k.Closed != 0 && today > k.Closed {
			continue
		}
		c.say(i, lastDay, -1)
		c.progress[i].closed, k.Closed = today-1, today-1
		c.closed(i)
		names = append(names, k.Name)
	}
	if len(names) == 0 {
		return nil, fmt.Errorf("empty %s: no batch stands on it today, and nothing floods it by itself", c.called(b))
	}
	return names, nil
}

// closed puts the last day of batch i in force.
func (c *Controller) closed(i int) {
	b := &c.setup.Batches[i]
	c.changed(i)
	c.emit(Event{Kind: BatchClosed, Bench: b.Bench, Output: -1, Batch: b.Name, Stage: noStage, Text: closedText(b.Closed)})
	c.emptied(b.Bench)
}

func closedText(last schedule.Date) string {
	if last == 0 {
		return "open again"
	}
	return "closed, last day " + last.String()
}

func (c *Controller) batch(act string, i int) (*schedule.Batch, error) {
	if i < 0 || i >= len(c.setup.Batches) {
		return nil, fmt.Errorf("%s: no such batch", act)
	}
	return &c.setup.Batches[i], nil
}

// changed puts what is new of batch i in force. What a new rule would have had
// earlier today is no slot.
func (c *Controller) changed(i int) {
	b := &c.setup.Batches[i]
	c.setup.Calendar.Change(i, b.Closed, b.Passages)
	s := &c.benches[b.Bench]
	s.nextRead = false
	if s.hasSlot && c.clock.calendar() {
		s.cursor = max(s.cursor, c.setup.Calendar.Civil(c.now.Wall))
	}
	c.stagesOn, c.dirty = 0, true
	c.rebind(b.Bench)
}

// emptied gives up floods that wait for a bench on which nothing stands. What is
// skipped stays so, should it be put back.
func (c *Controller) emptied(b int) {
	if _, ok := c.governing(b); ok {
		return
	}
	s := &c.benches[b]
	queue := s.queue
	s.queue = nil
	if s.phase == Recording && s.run.flood.Cause != ByHand {
		s.phase = Rest
		queue = append(queue, s.run.job)
	}
	for i := range queue {
		if queue[i].flood.Cause == ByHand {
			s.queue = append(s.queue, queue[i])
			continue
		}
		queue[i].told = true
		c.closeEarly(&queue[i], Refused, "no batch stands on the bench any more")
	}
}

// watchStages notes, once a day, which batches have entered a stage, and tells
// of those that are old enough for one and wait for a person's word.
func (c *Controller) watchStages() {
	if !c.clock.calendar() {
		return
	}
	today := c.today()
	if c.asks {
		c.wakeAtWall(today.AddDays(1).At(0).In(c.setup.Calendar.Zone()))
	}
	if today == c.stagesOn {
		return
	}
	c.stagesOn = today
	for i := range c.setup.Batches {
		c.watchStage(i, today)
	}
}

func (c *Controller) watchStage(i int, today schedule.Date) {
	b, k := &c.setup.Batches[i], &c.progress[i]
	plan, stage := c.setup.Plans[b.Plan], c.stageNow(i)
	if stage == noStage {
		k.stage = noStage
		return
	}
	if stage != k.stage {
		k.stage, c.dirty = stage, true
		c.emit(Event{Kind: StageBegan, Bench: b.Bench, Output: -1, Batch: b.Name, Stage: stage, Text: c.plants(i) + " is in its " + stageName(plan, stage) + ": " + stageRule(plan, stage)})
	}
	if due, _ := b.ByAge(plan, today); b.Asked && due > stage && due != k.offered {
		k.offered, c.dirty = due, true
		c.tell(Today, b.Bench, "stage-"+b.Name, Parts{
			Happened: fmt.Sprintf("%s on %s is %d days old: its %s is due (%s).", c.plants(i), c.called(b.Bench), int(today-b.Transplanted), stageName(plan, due), stageRule(plan, due)),
			Do:       fmt.Sprintf("Look at the plants, and advance it when they are ready. Until then it stays in its %s.", stageName(plan, stage)),
		})
	}
}

// stageNow is the stage of batch i today, noStage without one.
func (c *Controller) stageNow(i int) int { return c.stageOn(i, c.today()) }

// stageOn is the stage of batch i on a day, noStage without one.
func (c *Controller) stageOn(i int, d schedule.Date) int {
	b := &c.setup.Batches[i]
	if stage, ok := b.StageOn(c.setup.Plans[b.Plan], d); ok {
		return stage
	}
	return noStage
}

func stageName(p schedule.Plan, stage int) string {
	return fmt.Sprintf("stage from day %d", p.Stages[stage].FromDay)
}

func stageRule(p schedule.Plan, stage int) string {
	s := p.Stages[stage]
	return fmt.Sprintf("%s, hold %.3g min, strength %.0f %%", schedule.Describe(s), s.Hold.Minutes(), 100*s.Strength)
}

// resumeBatch goes on with what a person said of batch i before a restart. A
// batch of the same name that was transplanted on another day is another one.
func (c *Controller) resumeBatch(i int, st State) {
	b := &c.setup.Batches[i]
	k, ok := st.Crops[b.Name]
	if !ok || k.Transplanted != b.Transplanted {
		return
	}
	c.progress[i] = progress{stage: k.Stage, offered: k.Offered, closed: k.Closed, said: slices.Clone(k.Said)}
	b.Passages = k.Passages
	if k.Closed != 0 {
		b.Closed = k.Closed
	}
	c.setup.Calendar.Change(i, b.Closed, b.Passages)
}
