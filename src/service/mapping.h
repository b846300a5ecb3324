/// Mapping: what the user answered for one kind of file is kept in the job and used for the next
/// file of that kind.
///
/// It is the job's setting "mapping:KIND", KIND as signals::file_kind() says. Only what is true of
/// every file of the kind is kept: channels, the AFR constant, the spacing of rows; not the
/// weather.
#pragma once

#include <optional>
#include <string>

#include "base/result.h"
#include "service/job/job.h"
#include "signals/recording/recording.h"

namespace fuelwright::service {

/// The answers kept for a kind; nullopt if there are none. Errors: damaged.
Result<std::optional<signals::Answers>> kept_answers(const Job& job, const std::string& kind);

/// What the user says now goes before what was kept.
signals::Answers merged(signals::Answers now, const signals::Answers& kept);

/// "CLT=coolant:degF, --afr-constant 14.7"; empty if nothing was answered.
std::string describe(const signals::Answers& answers);

/// Keeps the answers if there are any and they are not those kept already.
Status keep_answers(Job& job, const std::string& kind, const signals::Answers& answers,
                    const By& by);

}  // namespace fuelwright::service
