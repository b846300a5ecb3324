#include "advice/first_start/questions.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>

#include "advice/first_start/test_cars.h"

namespace fuelwright::advice::questions_test {
namespace {

using testing::HasSubstr;

std::vector<std::string> asked(const car::Sheet& sheet, const StartAnswers& a) {
  std::vector<std::string> out;
  for (const auto& q : questions_of(sheet, a)) out.push_back(q.id);
  return out;
}
bool has(const std::vector<std::string>& list, const char* id) {
  return std::find(list.begin(), list.end(), id) != list.end();
}

TEST(StartQuestions, TappetsAreAskedOnlyWhereTheyMatterAndTheSheetIsSilent) {
  StartAnswers a;
  EXPECT_FALSE(has(asked(test_cars::plain_four(), a), "tappets"));
  a.new_cam = true;
  EXPECT_TRUE(has(asked(test_cars::plain_four(), a), "tappets"));
  EXPECT_FALSE(has(asked(test_cars::flat_v8(), a), "tappets"));  // the sheet states them
}

TEST(StartQuestions, AFreshEngineIsNotAskedWhetherItsCoolantWasDrained) {
  StartAnswers a;
  EXPECT_TRUE(has(asked(test_cars::flat_v8(), a), "cooling_opened"));
  a.fresh_engine = true;
  EXPECT_FALSE(has(asked(test_cars::flat_v8(), a), "cooling_opened"));
}

TEST(StartQuestions, EveryQuestionTakesEveryAnswerItOffersAndThenIsClosed) {
  for (const car::Sheet& sheet : {test_cars::flat_v8(), test_cars::plain_four()}) {
    StartAnswers a;
    int count = 0;
    while (const auto q = open_question(sheet, a)) {
      ASSERT_LT(++count, 10);
      for (const StartOption& o : q->options) {
        StartAnswers b = a;
        ASSERT_TRUE(answer_question(b, q->id, o.give)) << q->id << " " << o.give;
        const auto again = questions_of(sheet, b);
        const auto same = std::ranges::find(again, q->id, &StartQuestion::id);
        ASSERT_NE(same, again.end());
        EXPECT_EQ(same->answer, o.give);
      }
      ASSERT_TRUE(answer_question(a, q->id, q->options.front().give));
    }
    EXPECT_GE(count, 4);
  }
}

TEST(StartQuestions, AnAnswerIsReadAsAPersonWritesIt) {
  StartAnswers a;
  EXPECT_TRUE(answer_question(a, "new_cam", " Y "));
  EXPECT_EQ(a.new_cam, true);
  EXPECT_TRUE(answer_question(a, "tappets", "not known"));
  EXPECT_EQ(a.tappets, TappetAnswer::not_known);
  const auto wrong = answer_question(a, "new_cam", "perhaps");
  ASSERT_FALSE(wrong);
  EXPECT_EQ(wrong.error().code, ErrorCode::bad_input);
  EXPECT_THAT(wrong.error().line(), HasSubstr("perhaps"));
  EXPECT_EQ(answer_question(a, "colour", "red").error().code, ErrorCode::not_found);
}

TEST(StartQuestions, WhatTheSheetStatesGoesBeforeAnAnswer) {
  StartAnswers a = test_cars::all_new();  // says roller
  EXPECT_TRUE(cam_runs_in(test_cars::flat_v8(), a));
  EXPECT_FALSE(cam_runs_in(test_cars::plain_four(), a));
  a.tappets = TappetAnswer::flat;
  EXPECT_TRUE(cam_runs_in(test_cars::plain_four(), a));
  EXPECT_FALSE(cam_runs_in(test_cars::roller_six(), a));
}

}  // namespace
}  // namespace fuelwright::advice::questions_test
