/// The five answers that are enough for a sheet, to be asked one by one.
///
///   for (const Question& q : five_questions()) { show(q.text, q.example); ... q.check(answer) ...
///   } std::string toml = *sheet_from_answers(answers);
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"

namespace fuelwright::car {

/// An answer as it was understood.
struct Answer {
  std::string understood;  ///< "101.6 mm x 88.4 mm (bore x stroke)": to be shown back
  std::string section;     ///< of the sheet
  std::string toml;        ///< its lines in that section
};

struct Question {
  std::string id;       ///< "engine.displacement"
  std::string text;     ///< "Displacement, or bore x stroke?"
  std::string example;  ///< "5.7 l, 350 cu in, or 4.030 in x 3.480 in"
  /// Errors: what came and what is expected, without a place.
  Result<Answer> (*check)(std::string_view answer);
};

/// Displacement or bore x stroke, cylinders, intake duration at 0.050 in, injector flow at its
/// pressure, fuel.
const std::vector<Question>& five_questions();

/// The sheet (TOML) that five answers make; read_sheet() takes it.
/// Errors: usage unless there are five; those of the questions, with the question's id as place;
/// those of read_sheet() where answers contradict each other.
Result<std::string> sheet_from_answers(const std::vector<std::string>& answers);

}  // namespace fuelwright::car
