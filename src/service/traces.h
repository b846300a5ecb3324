/// A recording as it is looked at: what was recognised, its traces in a window, what is masked.
///
///   FW_TRY(const auto seen, decode("coupe.fw", 3));       // once; it may be kept
///   FW_TRY(const TracesReply drawn, traces(*seen, {.points = 1000}));
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "base/result.h"
#include "service/job/job.h"
#include "signals/recording/recording.h"

namespace fuelwright::service {

struct DecodedRecording {
  RecordingRow row;
  std::optional<int> driven_with;
  signals::Recording recording;
  UnitSystem units = UnitSystem::metric;  ///< in which the job's people read it

  bool timed() const { return !recording.time_s.empty(); }
  /// Seconds from the start, or the row's number.
  double x(std::size_t row) const;
  /// Memory that it holds [bytes].
  std::size_t held() const;
};
/// Errors: not_found; damaged.
Result<std::shared_ptr<const DecodedRecording>> decode(const std::string& job, std::int64_t id);

struct TracesRequest {
  std::vector<std::string>
      channels;                    ///< numbers of columns, names of quantities; empty: those needed
  std::optional<double> from, to;  ///< seconds, or rows of a recording without time
  int points = 1000;               ///< buckets, 2 to 8000
};
/// One channel over the buckets; NaN where a bucket has no value.
struct Trace {
  std::size_t column = 0;
  std::vector<double> low, high, first, last;
};
struct TracesReply {
  std::shared_ptr<const DecodedRecording> of;
  double from = 0, to = 0;
  double step = 0;        ///< width of a bucket; 0: one a row
  std::size_t rows = 0;   ///< in the window
  std::vector<double> x;  ///< where each bucket begins
  std::vector<Trace> traces;
};
/// Every value of the window counts. Errors: not_found for a channel, naming those there are; usage
/// for a window that ends before it begins; out_of_range for points.
Result<TracesReply> traces(std::shared_ptr<const DecodedRecording> of,
                           const TracesRequest& request);

struct MasksReply {
  std::shared_ptr<const DecodedRecording> of;
  std::optional<std::string> refused;  ///< why nothing of it is used
  struct Mask {
    std::string sensor;  ///< its quantity's name; "row" for all of a row
    int bank = 1;
    std::string why;
    std::vector<std::pair<double, double>> spans;  ///< seconds or rows
  };
  std::vector<Mask> masks;
};
/// As `check` finds them. Errors: those of check().
Result<MasksReply> masks(const std::string& job, std::int64_t id);

/// How bytes that are not added yet would read.
struct LookReply {
  std::string problem;  ///< why they cannot be read; or empty
  signals::Report report;
  std::string kept_answers;  ///< of earlier files of this kind, that were used
};
Result<LookReply> look_at_recording(const std::string& job, const std::string& name,
                                    const std::string& bytes, const signals::Answers& answers);

}  // namespace fuelwright::service
