/// An estimate in words: what is known, what is not, what does not fit together, and what dynamics
/// were found on the way.
#pragma once

#include <span>
#include <string>

#include "advice/dynamic_estimate/dynamic_estimate.h"
#include "service/estimate_witnesses.h"
#include "service/service.h"

namespace fuelwright::service {

std::string sentence_of(const EstimateReply& reply);
/// One sentence: the lowest speed from which every node of the top load is still a guess.
std::string not_known_of(const EstimateReply& reply);

/// VE that no engine has without boost, by share of the driving: some number on the sheet is wrong.
void warn_of_impossible_ve(const advice::MapEstimate& estimate, EstimateReply& reply);
/// Recordings that cannot both be right: each one's mean distance from the joint answer, over its
/// own driving.
void warn_of_disagreement(const Witnesses& witnesses, const Task& task,
                          const advice::MapEstimate& estimate, EstimateReply& reply);
/// Doubts that are more probable than not, and refused recordings.
void warn_of_doubts(EstimateReply& reply);

/// Delay, lag and film with their half-widths, in figures and in words.
DynamicsFound dynamics_found(const advice::DynamicEstimate& estimate,
                             std::span<const advice::Driving> drives);

}  // namespace fuelwright::service
