"""Placeholder."""
import streamlit as st
from app import state, charts, marks
from app.charts import DayBar
st.title("Interview", anchor=False)
state.keep("age", st.text_input("Age", key=state.seed("age"), live="400ms"))
bars=[DayBar("office lens",5.4,.6,0,True),DayBar("general progressive",2.67,3.33,0),DayBar("present pair: single-vision distance",0.6,0,5.4)]
st.altair_chart(charts.day_bars(bars), theme=None, width="stretch", alt=charts.alt_text(bars))
st.markdown(marks.key(), unsafe_allow_html=True)
import sys; sys.path.insert(0,'/tmp')
import pic
st.markdown('<div class="lg-picture">'+pic.l+'</div>', unsafe_allow_html=True)
st.markdown('<div role="status" aria-live="polite">'+"hello <b>x</b>"+'</div>', unsafe_allow_html=True)
