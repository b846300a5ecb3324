/// Replies as people read them: one plain sentence first, then the figures with their units.
#pragma once

#include <string>

#include "service/service.h"

namespace fuelwright::service {

std::string text(const NewReply& reply);
std::string text(const AddReply& reply);
std::string text(const PredictReply& reply);
std::string text(const SizeReply& reply);
std::string text(const EstimateReply& reply);
std::string text(const CheckReply& reply);
std::string text(const StartQuestionsReply& reply);
std::string text(const FirstStartReply& reply);
std::string text(const PlanReply& reply);
std::string text(const AcceptReply& reply);
std::string text(const ArchiveReply& reply);
std::string text(const ShowReply& reply);
std::string text(const BringInReply& reply);
std::string text(const CompareReply& reply);
std::string text(const RevertReply& reply);

/// Every table, curve and setting with its unit, and how each came about.
std::string calibration_text(const car::Calibration& calibration, UnitSystem units);

/// The chart of a terminal: marks (measured, inferred, prior only) and, beside them, value and 95 %
/// half-width. High load stands on top, as on paper.
std::string chart_text(const car::Evidence& evidence, UnitSystem units);

}  // namespace fuelwright::service
