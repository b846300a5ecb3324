/// Replies as JSON: the same answer as report/text.h gives, for programs. Numbers in SI unless the
/// name says otherwise.
#pragma once

#include <string>

#include "service/service.h"

namespace fuelwright::service {

/// Indented JSON text with a final newline.
std::string json(const NewReply& reply);
std::string json(const AddReply& reply);
std::string json(const PredictReply& reply);
std::string json(const SizeReply& reply);
std::string json(const EstimateReply& reply);
std::string json(const CheckReply& reply);
std::string json(const StartQuestionsReply& reply);
std::string json(const FirstStartReply& reply);
std::string json(const PlanReply& reply);
std::string json(const AcceptReply& reply);
std::string json(const ArchiveReply& reply);
std::string json(const ShowReply& reply);
std::string json(const BringInReply& reply);
std::string json(const CompareReply& reply);
std::string json(const RevertReply& reply);
std::string json(const SheetReply& reply);
std::string json(const ChangeSheetReply& reply);
std::string json(const AmendReply& reply);
std::string json(const ProposalReply& reply);
std::string json(const ChartReply& reply);
std::string json(const SectionReply& reply);
std::string json(const DecodedRecording& recording);
std::string json(const TracesReply& reply);
std::string json(const MasksReply& reply);
/// Tracks over one chart's axes.
std::string json(const std::vector<Track>& tracks, const car::Grid& grid);
/// A revision with its calibration and how each part of it is shown.
std::string json(const RevisionReply& reply);
/// {"error": {"code": ..., "where": ..., "message": ...}}
std::string json(const Error& error);

}  // namespace fuelwright::service
