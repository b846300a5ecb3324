// Answers about a file add up; none takes another away.
import {describe, expect, it} from 'vitest';
import {withAnswer} from '../pages/drives/answers.ts';

describe('an answer about a column', () => {
  it('joins those about other columns and other things of the same column', () => {
    const one = withAnswer({}, {channels: {AFR: {quantity: 'lambda', unit: 'afr 14.7'}}});
    const two = withAnswer(one, {channels: {'AFR target': {quantity: 'target'}}});
    const three = withAnswer(two, {channels: {'AFR target': {unit: 'afr 14.7'}}, rate: '10 Hz'});
    expect(three).toEqual({channels: {AFR: {quantity: 'lambda', unit: 'afr 14.7'}, 'AFR target': {quantity: 'target', unit: 'afr 14.7'}}, rate: '10 Hz'});
  });
});
