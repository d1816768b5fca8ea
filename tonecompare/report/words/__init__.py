"""How is it said? Every sentence and every number as people read it.

What other rooms use
--------------------
``bench_words``: piezo_sentence, sign_sentence
``blend_words``: advice_sentences, at_bench_sentence, beside_sentences, delay_sentence,
    likeness_sentences, notch_sentence, polarity_sentence, quality_sentences, recorded_sentence
``cause_words``: a room of its own: what other than the work explains a difference
``check_text``: again_rows, ANSWER_WORDS, check_json, grouped, Grouped, headline, resolved_headings,
    resolved_rows, SEVERITY_WORDS, unknown_reasons, WHAT_IT_SHOWS, where
``comparison_words``: note_sentence
``check_words``: a room of its own: faults of takes
``exchanged_outputs``: EXCHANGED_FLAG, exchanged_sentence, exchanged_voices, marked_blend
``file_remarks``: file_remarks
``finding_words``: a room of its own: changes of tone
``findings``: find, Finding
``names``: slug, unique_slugs, voice_title
``numbers``: count, decimals_for, difference, frequency_tick, half_width, interval, is_number,
    listed, MINUS, NOT_MEASURED, number, unit_word, with_unit
``phrases``: VERDICT_WORDS, without
``standing_texts``: CAUTIONS, CONVENTIONS, LIMITS
"""
