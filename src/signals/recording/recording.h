/// Recordings: the bytes of a drive log become channels in SI, and what is unclear becomes a
/// question.
///
///   FW_TRY(std::string bytes, read_file("drive.csv"));
///   Answers answers;
///   FW_CHECK(add_channel_answer(answers, "AFR=lambda:afr 14.7"));
///   FW_TRY(Recording drive, read_recording(bytes, "drive.csv", answers));
///
/// Every column is recognised by its name, unit, range and behaviour, with a reason and a
/// confidence. Nothing that the fuel table depends on is guessed silently: below kSure, with two
/// candidates, or with a unit that the range cannot settle, recognise() returns a question and
/// read_recording() refuses, naming the option that answers it.
#pragma once

#include <cstddef>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "base/units/points.h"
#include "base/units/quantity.h"
#include "signals/channels/channel.h"

namespace fuelwright::signals {

/// A guess at or above this confidence is taken; below it a needed column is asked about.
inline constexpr double kSure = 0.75;
/// The largest recording read_file() takes [bytes].
inline constexpr std::size_t kLargestFile = std::size_t{2} << 30U;

/// What the user says about one column. An answer wins over a guess, but a value that cannot be is
/// still refused.
struct ChannelAnswer {
  std::optional<Quantity> what;
  std::string unit;  ///< "degC", "afr 14.7", "% around 100", "kPa gauge"; empty: not said
};

struct Answers {
  std::map<std::string, ChannelAnswer>
      channels;  ///< by header, as the file writes it without the unit
  /// Constant of every AFR column that no answer of its own settles; never assumed.
  std::optional<double> afr_constant;
  std::optional<Duration> row_step;         ///< for a file without time: the spacing of its rows
  bool unordered = false;                   ///< neighbouring rows need not follow each other
  std::optional<AbsolutePressure> ambient;  ///< makes gauge pressures absolute
};

/// "HEADER=QUANTITY:UNIT", either part may be left out: "MAP=map:kPa", "X3=other", "CLT=:degF".
/// Errors: usage, with the form or the known quantities.
Status add_channel_answer(Answers& answers, std::string_view text);
/// The spacing of rows from "10 Hz", "100 ms", "0.1 s"; between 1 us and 1 h.
Result<Duration> parse_row_step(std::string_view text);

struct Option {
  std::string give;   ///< the option to give: --channel "COOLANT=coolant:degF"
  std::string means;  ///< "coolant temperature in degF"
};

/// Something only the user can know.
struct Question {
  std::string header;
  std::string unclear;  ///< what is unclear, with the evidence
  std::vector<Option> options;
  /// One line: the column, what is unclear, what to give.
  std::string line() const;
};

/// What one column was taken for.
struct Guess {
  std::string header;
  std::string unit_found;
  Quantity what = Quantity::other;
  std::string unit;  ///< empty if none is known
  int bank = 1;
  double confidence = 0;  ///< 0..1
  std::string reason;     ///< why, for people
  bool constant = false;
  bool answered = false;
};

/// What a file was taken for, before anything is refused.
struct Report {
  std::string name;
  std::string kind;  ///< of file: see file_kind()
  std::size_t rows = 0;
  char separator = ',';
  bool decimal_comma = false;
  std::vector<Guess> columns;
  std::vector<Question> questions;
  std::vector<std::string> warnings;
};

/// Errors: bad_input (not readable as a table, with file:line), not_found (an answer names no
/// column, with the nearest), unknown_unit, out_of_range (an answer that the values contradict),
/// usage (answers contradict each other).
Result<Report> recognise(std::string_view bytes, std::string_view name, const Answers& answers);

/// A fingerprint of the kind of a file: its channels with their units, in any order. Files of one
/// logger set up in one way have the same, so that answers given for one serve the next. 16 hex
/// digits. Errors: bad_input as recognise().
Result<std::string> file_kind(std::string_view bytes, std::string_view name);

/// Report and recording of one reading.
struct ReadResult {
  Report report;
  Recording recording;
};
/// As recognise(), and needs_answer with all open questions in one line. The bytes are not kept.
Result<ReadResult> read_with_report(std::string_view bytes, std::string_view name,
                                    const Answers& answers);

/// The recording alone.
Result<Recording> read_recording(std::string_view bytes, std::string_view name,
                                 const Answers& answers);

/// The bytes of a file. Errors: not_found, io, bad_input (not a regular file), too_large (above
/// `largest`).
Result<std::string> read_file(const std::string& path, std::size_t largest = kLargestFile);

}  // namespace fuelwright::signals
