-- The ledger's rules, as far as the file itself can hold them. Recreated whole by every migration.

-- 1. An amount changes only by an inserted movement.
CREATE TRIGGER movement_moves AFTER INSERT ON movement BEGIN
  UPDATE container
  SET amount_left = amount_left + NEW.amount, cost_left_micro = cost_left_micro + NEW.cost_micro, last_movement_id = NEW.id
  WHERE id = NEW.container_id;
END;

-- The cost of what is in it changes besides by its part of a delivery's costs.
CREATE TRIGGER container_cost_adds AFTER INSERT ON container_cost BEGIN
  UPDATE container SET cost_left_micro = cost_left_micro + NEW.kept_micro, last_cost_id = NEW.id
  WHERE id = NEW.container_id;
END;

CREATE TRIGGER container_amount_by_movement
BEFORE UPDATE OF amount_left, cost_left_micro, last_movement_id, last_cost_id ON container
WHEN NOT EXISTS (
  SELECT 1 FROM movement
  WHERE id = NEW.last_movement_id AND id > OLD.last_movement_id AND container_id = NEW.id
    AND amount = NEW.amount_left - OLD.amount_left AND cost_micro = NEW.cost_left_micro - OLD.cost_left_micro
    AND NEW.last_cost_id = OLD.last_cost_id
) AND NOT EXISTS (
  SELECT 1 FROM container_cost
  WHERE id = NEW.last_cost_id AND id > OLD.last_cost_id AND container_id = NEW.id
    AND kept_micro = NEW.cost_left_micro - OLD.cost_left_micro
    AND NEW.amount_left = OLD.amount_left AND NEW.last_movement_id = OLD.last_movement_id
) BEGIN SELECT raise(ABORT, 'an amount changes only by a movement'); END;

CREATE TRIGGER container_starts_empty BEFORE INSERT ON container
WHEN NEW.amount_left <> 0 OR NEW.cost_left_micro <> 0 OR NEW.last_movement_id <> 0 OR NEW.last_cost_id <> 0
BEGIN SELECT raise(ABORT, 'a container starts empty; a movement fills it'); END;

CREATE TRIGGER container_keeps_what_it_is BEFORE UPDATE OF id, code, supply_id, lot_id, receipt_line_id, kit_unit ON container
BEGIN SELECT raise(ABORT, 'a container keeps its code, supply, lot and origin'); END;

-- 2. What was done stays written.
CREATE TRIGGER action_stays BEFORE UPDATE ON action BEGIN SELECT raise(ABORT, 'actions are never changed'); END;
CREATE TRIGGER action_kept BEFORE DELETE ON action BEGIN SELECT raise(ABORT, 'actions are never deleted'); END;
CREATE TRIGGER movement_stays BEFORE UPDATE ON movement BEGIN SELECT raise(ABORT, 'movements are never changed'); END;
CREATE TRIGGER movement_kept BEFORE DELETE ON movement BEGIN SELECT raise(ABORT, 'movements are never deleted'); END;
CREATE TRIGGER mark_stays BEFORE UPDATE ON mark BEGIN SELECT raise(ABORT, 'marks are never changed'); END;
CREATE TRIGGER mark_kept BEFORE DELETE ON mark BEGIN SELECT raise(ABORT, 'marks are never deleted'); END;
CREATE TRIGGER cup_change_stays BEFORE UPDATE ON cup_change BEGIN SELECT raise(ABORT, 'cup changes are never changed'); END;
CREATE TRIGGER cup_change_kept BEFORE DELETE ON cup_change BEGIN SELECT raise(ABORT, 'cup changes are never deleted'); END;
CREATE TRIGGER row_change_stays BEFORE UPDATE ON row_change BEGIN SELECT raise(ABORT, 'what was changed stays written'); END;
CREATE TRIGGER row_change_kept BEFORE DELETE ON row_change BEGIN SELECT raise(ABORT, 'what was changed stays written'); END;
CREATE TRIGGER coat_stays BEFORE UPDATE ON coat BEGIN SELECT raise(ABORT, 'coats are never changed'); END;
CREATE TRIGGER coat_kept BEFORE DELETE ON coat BEGIN SELECT raise(ABORT, 'coats are never deleted'); END;
CREATE TRIGGER coat_cup_stays BEFORE UPDATE ON coat_cup BEGIN SELECT raise(ABORT, 'coats are never changed'); END;
CREATE TRIGGER coat_cup_kept BEFORE DELETE ON coat_cup BEGIN SELECT raise(ABORT, 'coats are never deleted'); END;
CREATE TRIGGER mix_stays BEFORE UPDATE ON mix BEGIN SELECT raise(ABORT, 'mixes are never changed'); END;
CREATE TRIGGER mix_kept BEFORE DELETE ON mix BEGIN SELECT raise(ABORT, 'mixes are never deleted'); END;
CREATE TRIGGER coat_plan_stays BEFORE UPDATE ON coat_plan BEGIN SELECT raise(ABORT, 'what a coat was to take is never changed'); END;
CREATE TRIGGER coat_plan_kept BEFORE DELETE ON coat_plan BEGIN SELECT raise(ABORT, 'what a coat was to take is never deleted'); END;
CREATE TRIGGER coat_actual_stays BEFORE UPDATE ON coat_actual BEGIN SELECT raise(ABORT, 'what was measured is never changed'); END;
CREATE TRIGGER coat_actual_kept BEFORE DELETE ON coat_actual BEGIN SELECT raise(ABORT, 'what was measured is never deleted'); END;
CREATE TRIGGER mix_left_stays BEFORE UPDATE ON mix_left BEGIN SELECT raise(ABORT, 'what was measured is never changed'); END;
CREATE TRIGGER mix_left_kept BEFORE DELETE ON mix_left BEGIN SELECT raise(ABORT, 'what was measured is never deleted'); END;
CREATE TRIGGER strip_stays BEFORE UPDATE ON strip BEGIN SELECT raise(ABORT, 'what was stripped is never changed'); END;
CREATE TRIGGER strip_kept BEFORE DELETE ON strip BEGIN SELECT raise(ABORT, 'what was stripped is never deleted'); END;
CREATE TRIGGER batch_substitute_stays BEFORE UPDATE ON batch_substitute BEGIN SELECT raise(ABORT, 'what a batch was to take is never changed'); END;
CREATE TRIGGER batch_substitute_kept BEFORE DELETE ON batch_substitute BEGIN SELECT raise(ABORT, 'what a batch was to take is never deleted'); END;
CREATE TRIGGER batch_resin_substitute_stays BEFORE UPDATE ON batch_resin_substitute BEGIN SELECT raise(ABORT, 'what a batch was to take is never changed'); END;
CREATE TRIGGER batch_resin_substitute_kept BEFORE DELETE ON batch_resin_substitute BEGIN SELECT raise(ABORT, 'what a batch was to take is never deleted'); END;
CREATE TRIGGER container_lot_stays BEFORE UPDATE ON container_lot BEGIN SELECT raise(ABORT, 'what went into a container is never changed'); END;
CREATE TRIGGER container_lot_kept BEFORE DELETE ON container_lot BEGIN SELECT raise(ABORT, 'what went into a container is never deleted'); END;
CREATE TRIGGER container_kept BEFORE DELETE ON container BEGIN SELECT raise(ABORT, 'containers are never deleted'); END;
CREATE TRIGGER lot_kept BEFORE DELETE ON lot BEGIN SELECT raise(ABORT, 'lots are never deleted'); END;
CREATE TRIGGER cup_kept BEFORE DELETE ON cup BEGIN SELECT raise(ABORT, 'cups are never deleted'); END;
CREATE TRIGGER receipt_line_kept BEFORE DELETE ON receipt_line BEGIN SELECT raise(ABORT, 'receipt lines are never deleted'); END;
CREATE TRIGGER receipt_problem_stays BEFORE UPDATE ON receipt_problem BEGIN SELECT raise(ABORT, 'what came is never changed'); END;
CREATE TRIGGER receipt_problem_kept BEFORE DELETE ON receipt_problem BEGIN SELECT raise(ABORT, 'what came is never deleted'); END;
CREATE TRIGGER container_cost_stays BEFORE UPDATE ON container_cost BEGIN SELECT raise(ABORT, 'shares of a cost are never changed'); END;
CREATE TRIGGER container_cost_kept BEFORE DELETE ON container_cost BEGIN SELECT raise(ABORT, 'shares of a cost are never deleted'); END;
CREATE TRIGGER container_change_stays BEFORE UPDATE ON container_change BEGIN SELECT raise(ABORT, 'what was done with a container is never changed'); END;
CREATE TRIGGER container_change_kept BEFORE DELETE ON container_change BEGIN SELECT raise(ABORT, 'what was done with a container is never deleted'); END;
CREATE TRIGGER lot_photo_stays BEFORE UPDATE ON lot_photo BEGIN SELECT raise(ABORT, 'a photo stays with its lot'); END;
CREATE TRIGGER lot_photo_kept BEFORE DELETE ON lot_photo BEGIN SELECT raise(ABORT, 'a photo stays with its lot'); END;
CREATE TRIGGER photo_stays BEFORE UPDATE ON photo BEGIN SELECT raise(ABORT, 'photos are never changed'); END;

-- A reversing movement takes back exactly what it names, in the same container.
CREATE TRIGGER movement_reverses_exactly BEFORE INSERT ON movement
WHEN NEW.reverses_movement_id IS NOT NULL AND NOT EXISTS (
  SELECT 1 FROM movement WHERE id = NEW.reverses_movement_id AND container_id = NEW.container_id AND amount = -NEW.amount AND kind <> 'reverse'
) BEGIN SELECT raise(ABORT, 'a reversing movement takes back exactly one movement'); END;

CREATE TRIGGER action_reverses_no_reversal BEFORE INSERT ON action
WHEN NEW.reverses_action_id IS NOT NULL AND EXISTS (
  SELECT 1 FROM action WHERE id = NEW.reverses_action_id AND reverses_action_id IS NOT NULL
) BEGIN SELECT raise(ABORT, 'a reversal is not reversed'); END;

-- 3. A transfer's two legs sum to zero (checked when the action closes).
CREATE TRIGGER action_transfer_balances BEFORE INSERT ON action
WHEN NEW.kind = 'transfer' AND (SELECT coalesce(sum(amount), 0) FROM movement WHERE action_id = NEW.id AND kind = 'transfer') <> 0
BEGIN SELECT raise(ABORT, 'a transfer must add up to zero'); END;

-- A frozen design version keeps its layers.
CREATE TRIGGER version_stays BEFORE UPDATE ON design_version WHEN OLD.frozen = 1
BEGIN SELECT raise(ABORT, 'this version has been used; make a new one'); END;
CREATE TRIGGER version_kept BEFORE DELETE ON design_version WHEN OLD.frozen = 1
BEGIN SELECT raise(ABORT, 'this version has been used; make a new one'); END;
CREATE TRIGGER layer_not_added BEFORE INSERT ON layer WHEN (SELECT frozen FROM design_version WHERE id = NEW.version_id) = 1
BEGIN SELECT raise(ABORT, 'this version has been used; make a new one'); END;
CREATE TRIGGER layer_stays BEFORE UPDATE ON layer WHEN (SELECT frozen FROM design_version WHERE id = OLD.version_id) = 1
BEGIN SELECT raise(ABORT, 'this version has been used; make a new one'); END;
CREATE TRIGGER layer_kept BEFORE DELETE ON layer WHEN (SELECT frozen FROM design_version WHERE id = OLD.version_id) = 1
BEGIN SELECT raise(ABORT, 'this version has been used; make a new one'); END;
CREATE TRIGGER layer_use_not_added BEFORE INSERT ON layer_use
WHEN (SELECT v.frozen FROM layer l JOIN design_version v ON v.id = l.version_id WHERE l.id = NEW.layer_id) = 1
BEGIN SELECT raise(ABORT, 'this version has been used; make a new one'); END;
CREATE TRIGGER layer_use_stays BEFORE UPDATE ON layer_use
WHEN (SELECT v.frozen FROM layer l JOIN design_version v ON v.id = l.version_id WHERE l.id = OLD.layer_id) = 1
BEGIN SELECT raise(ABORT, 'this version has been used; make a new one'); END;
CREATE TRIGGER layer_use_kept BEFORE DELETE ON layer_use
WHEN (SELECT v.frozen FROM layer l JOIN design_version v ON v.id = l.version_id WHERE l.id = OLD.layer_id) = 1
BEGIN SELECT raise(ABORT, 'this version has been used; make a new one'); END;

-- What was written down about a cup or a lot stays written; an undo takes back the action.
CREATE TRIGGER complaint_stays BEFORE UPDATE ON complaint BEGIN SELECT raise(ABORT, 'complaints are never changed'); END;
CREATE TRIGGER complaint_kept BEFORE DELETE ON complaint BEGIN SELECT raise(ABORT, 'complaints are never deleted'); END;
CREATE TRIGGER told_stays BEFORE UPDATE ON told BEGIN SELECT raise(ABORT, 'what was told is never changed'); END;
CREATE TRIGGER told_kept BEFORE DELETE ON told BEGIN SELECT raise(ABORT, 'what was told is never deleted'); END;
CREATE TRIGGER stocktake_line_stays BEFORE UPDATE ON stocktake_line BEGIN SELECT raise(ABORT, 'what was counted is never changed'); END;
CREATE TRIGGER stocktake_line_kept BEFORE DELETE ON stocktake_line BEGIN SELECT raise(ABORT, 'what was counted is never deleted'); END;
CREATE TRIGGER stocktake_end_stays BEFORE UPDATE ON stocktake_end BEGIN SELECT raise(ABORT, 'an accepted count is never changed'); END;
CREATE TRIGGER stocktake_end_kept BEFORE DELETE ON stocktake_end BEGIN SELECT raise(ABORT, 'an accepted count is never deleted'); END;
CREATE TRIGGER cup_move_stays BEFORE UPDATE ON cup_move BEGIN SELECT raise(ABORT, 'where a cup went on is never changed'); END;
CREATE TRIGGER cup_move_kept BEFORE DELETE ON cup_move BEGIN SELECT raise(ABORT, 'where a cup went on is never deleted'); END;
CREATE TRIGGER making_photo_stays BEFORE UPDATE ON making_photo BEGIN SELECT raise(ABORT, 'a photo stays with what it shows'); END;
CREATE TRIGGER making_photo_kept BEFORE DELETE ON making_photo BEGIN SELECT raise(ABORT, 'a photo stays with what it shows'); END;
CREATE TRIGGER mix_check_stays BEFORE UPDATE ON mix_check BEGIN SELECT raise(ABORT, 'what was found of a mix is never changed'); END;
CREATE TRIGGER mix_check_kept BEFORE DELETE ON mix_check BEGIN SELECT raise(ABORT, 'what was found of a mix is never deleted'); END;

-- A cup is in the batch it was started in, or in one that it went on in.
CREATE TRIGGER cup_keeps_its_batch BEFORE UPDATE OF batch_id ON cup
WHEN NOT EXISTS (SELECT 1 FROM cup_move WHERE cup_id = NEW.id AND NEW.batch_id IN (from_batch_id, to_batch_id))
BEGIN SELECT raise(ABORT, 'a cup changes its batch only by going on in another'); END;

-- An offcut keeps the size it was cut to.
CREATE TRIGGER container_keeps_its_size BEFORE UPDATE OF width_um, height_um ON container
BEGIN SELECT raise(ABORT, 'an offcut keeps its size'); END;
