// A plan as it is typed may hold half-written quantities. The station reads only whole ones, so the half-written are
// left out of what is sent and remarked on in their place; what was typed stays in the draft.

import type { Margin, Plan, PremiseCondition, Quantity } from '../client/plan';
import type { Remark } from '../client/views';
import { isQuantity, partsOf } from '../desk/figures';

export interface Sendable {
  plan: Plan;
  /** What was left out, and where. With any of these the plan can be checked, but not saved. */
  leftOut: Remark[];
}

export function sendable(typed: Plan): Sendable {
  const plan = structuredClone(typed);
  const leftOut: Remark[] = [];
  const remark = (place: string, what: string, try_this: string) =>
    leftOut.push({ weight: 'refuse', place, what, try_this });

  /** The quantity when it is whole or absent; else nothing, remarked on. */
  const whole = (quantity: Quantity | undefined, place: string): Quantity | undefined => {
    const { amount, unit } = partsOf(quantity);
    if (amount === '' && unit === '') return undefined;
    if (isQuantity(quantity)) return `${amount.replace(',', '.')} ${unit}`;
    const what = unit === '' ? 'This number has no unit.' : 'This is not a number with a unit yet.';
    remark(place, what, 'Write a number and choose its unit, such as 250 and kg/ha.');
    return undefined;
  };

  const { question } = plan;
  question.claims.forEach((claim, index) => {
    const margin = wholeMargin(claim.margin, `question.claims[${index}].margin`, whole);
    if (margin === undefined) delete claim.margin;
    else claim.margin = margin;
  });
  question.links.forEach((link, index) => {
    setOrDrop(link, 'smallest', whole(link.smallest, `question.links[${index}].smallest`));
  });
  question.rivals.forEach((rival, index) => {
    setOrDrop(rival, 'smallest', whole(rival.smallest, `question.rivals[${index}].smallest`));
  });
  if (question.premise?.condition) {
    const condition = wholeCondition(question.premise.condition, remark, whole);
    setOrDrop(question.premise, 'condition', condition);
  }

  plan.measures = plan.measures.filter((measure, index) => {
    if (measure.unit.trim() !== '') return true;
    remark(`measures[${index}].unit`, 'This measure has no unit yet.', 'Choose one from the list; scores and counts have units too.');
    return false;
  });
  plan.treatments.factors.forEach((factor, index) => {
    if (factor.scale.kind === 'qualitative') for (const level of factor.levels) delete level.amount;
    else if (factor.scale.unit.trim() === '') {
      remark(`treatments.factors[${index}].unit`, 'This factor has amounts, but no unit.', 'Choose the unit of its amounts.');
    }
  });
  if (plan.supply) {
    plan.supply.stands = plan.supply.stands.filter((stand, index) => {
      const quantity = whole(stand.stand, `supply.stands[${index}].stand`);
      if (quantity !== undefined) stand.stand = quantity;
      else if (partsOf(stand.stand).amount === '') {
        remark(`supply.stands[${index}].stand`, 'No target stand is written here.', 'Write plants per area, or take the line out.');
      }
      return quantity !== undefined;
    });
    setOrDrop(plan.supply, 'sown_length', whole(plan.supply.sown_length, 'supply.sown_length'));
  }
  if (plan.harvest && plan.harvest.yield_unit.trim() === '') {
    remark('harvest.yield_unit', 'Yields have no unit to be shown in.', 'Choose kg/ha, t/ha or bu/ac.');
    delete plan.harvest;
  }
  return { plan, leftOut };
}

type Whole = (quantity: Quantity | undefined, place: string) => Quantity | undefined;

function wholeMargin(margin: Margin | undefined, place: string, whole: Whole): Margin | undefined {
  if (margin === undefined || typeof margin === 'string') return whole(margin, place);
  const added_cost = whole(margin.added_cost, `${place}.added_cost`);
  const price = whole(margin.price, `${place}.price`);
  return added_cost !== undefined && price !== undefined ? { added_cost, price } : undefined;
}

function wholeCondition(
  condition: PremiseCondition,
  remark: (place: string, what: string, try_this: string) => void,
  whole: Whole,
): PremiseCondition | undefined {
  const place = 'question.premise.condition';
  const threshold = whole(condition.threshold, `${place}.threshold`);
  setOrDrop(condition, 'sensor_error', whole(condition.sensor_error, `${place}.sensor_error`));
  if (threshold === undefined) {
    if (partsOf(condition.threshold).amount === '') {
      remark(`${place}.threshold`, 'The condition has no threshold.', 'Write the number that parts “occurred” from “did not occur”, or keep the premise in words only.');
    }
    return undefined;
  }
  return { ...condition, threshold };
}

function setOrDrop<Key extends string, Value>(target: { [key in Key]?: Value }, key: Key, value: Value | undefined): void {
  if (value === undefined) delete target[key];
  else target[key] = value;
}
