/** What the fetches of one call share. */
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { BUDGET_MS, MOST_BYTES, MOST_BYTES_OF_CALL, openBudget } from '../../src/hooks/fetch-budget.ts';

beforeEach(() => {
  vi.useFakeTimers();
});
afterEach(() => {
  vi.useRealTimers();
});

describe('the time of all fetches', () => {
  it('G1: is 400 ms, and then what is under way is ended', () => {
    const budget = openBudget();
    vi.advanceTimersByTime(399);
    expect([budget.signal.aborted, budget.msLeft()]).toEqual([false, 1]);
    vi.advanceTimersByTime(1);
    expect([budget.signal.aborted, budget.msLeft()]).toEqual([true, 0]);
    expect(BUDGET_MS).toBe(400);
  });

  it('ends with its close, and leaves no timer behind', () => {
    const budget = openBudget();
    budget.close();
    expect(budget.signal.aborted).toBe(true);
    expect(vi.getTimerCount()).toBe(0);
  });
});

describe('the bytes of all answers', () => {
  it('are set aside while an answer is under way, and no more than there are', () => {
    const budget = openBudget();
    const answers = MOST_BYTES_OF_CALL / MOST_BYTES;
    for (let answer = 0; answer < answers; answer += 1) expect(budget.take()).toBe(MOST_BYTES);
    expect(budget.take()).toBe(0);
    budget.giveBack(1_000);
    expect(budget.take()).toBe(1_000);
    expect(budget.take()).toBe(0);
    budget.close();
  });
});
